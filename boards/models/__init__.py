"""Blanks and their log."""

from boards.models.batches import Batch
from boards.models.bench import Bench
from boards.models.blank import Blank, Cut
from boards.models.calendar import Calendar, CalendarEntry
from boards.models.clashes import Wanted
from boards.models.forecasts import KeptForecast
from boards.models.log import LogEntry
from boards.models.made import AsMade
from boards.models.moisture import Moisture, MoistureReading
from boards.models.pictures import Paper, Photograph
from boards.models.receiving import receive_box, receive_stock
from boards.models.state import Condition, Kind, State, replay
from boards.models.stock_files import StockFile, StockRow

__all__ = [
    "AsMade",
    "Batch",
    "Bench",
    "Blank",
    "Calendar",
    "CalendarEntry",
    "Condition",
    "Cut",
    "KeptForecast",
    "Kind",
    "LogEntry",
    "Moisture",
    "MoistureReading",
    "Paper",
    "Photograph",
    "State",
    "StockFile",
    "StockRow",
    "Wanted",
    "receive_box",
    "receive_stock",
    "replay",
]
