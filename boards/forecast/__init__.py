"""When boards will be done: the shop's queue, hours and log, handed to `geometry.forecast` and said in dates."""
