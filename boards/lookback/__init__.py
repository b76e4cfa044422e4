"""Looking back over a period: what stages took, what came of boards, why some were spoiled, and how readings ran."""
