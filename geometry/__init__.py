"""What is true of fretboards and jigs.

Pure numpy: this package knows no Django, no database and no page. Lengths are millimetres, angles
radians, numbers float64; people's units stop at `geometry.units`.
"""
