"""What a table is: columns with words about them, and rows that come one after the other however many there are."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from enum import Enum
from typing import Any

ROWS_AT_ONCE = 2000  # fetched from the database in one go: the memory that a table of any length takes


class Kind(Enum):
    """What a column holds, and so how its cells are written."""

    TEXT = "text"
    NUMBER = "number"
    LENGTH = "length in mm"
    DAY = "day, year-month-day"
    MOMENT = "time, ISO 8601"
    YES_NO = "yes or no"
    JSON = "JSON"


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its heading, what it holds, and words about it."""

    name: str
    kind: Kind
    about: str


@dataclass(frozen=True, slots=True)
class Table:
    """A table. `rows` gives one tuple of values after another, in the order of the columns."""

    name: str
    group: str
    about: str
    columns: tuple[Column, ...]
    rows: Callable[[], Iterable[tuple[Any, ...]]]

    def __iter__(self) -> Iterator[tuple[Any, ...]]:
        """Go through the rows."""
        return iter(self.rows())
