"""Dates as a shop writes them: day before month, the month in letters, so that nobody mistakes one for the other."""

DATE_FORMAT = "j M Y"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = "j M Y, H:i"
