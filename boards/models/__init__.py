"""Blanks and their log."""

from boards.models.blank import Blank, Cut
from boards.models.clashes import Wanted
from boards.models.log import LogEntry
from boards.models.made import AsMade
from boards.models.receiving import receive_box
from boards.models.state import Condition, Kind, State, replay

__all__ = [
    "AsMade",
    "Blank",
    "Condition",
    "Cut",
    "Kind",
    "LogEntry",
    "State",
    "Wanted",
    "receive_box",
    "replay",
]
