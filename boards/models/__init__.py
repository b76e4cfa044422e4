"""Blanks and their log."""

from boards.models.blank import Blank, Cut
from boards.models.log import LogEntry
from boards.models.receiving import receive_box
from boards.models.state import Condition, Kind, State, replay

__all__ = ["Blank", "Condition", "Cut", "Kind", "LogEntry", "State", "receive_box", "replay"]
