"""What the columns of a file of stock can mean, and how that is guessed from their headings."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Self

from boards.stock.sheet import Sheet

LENGTHS = ("length", "width", "thickness")
UNITS = ("mm", "cm", "in")
LABELS = {
    "number": "Our number of it",
    "how_many": "How many alike",
    "species": "Wood",
    "cut": "Sawn",
    "length": "Length",
    "width": "Width",
    "thickness": "Thickness",
    "moisture": "Moisture, %",
    "received_on": "Day it came in",
    "supplier": "Supplier",
    "lot": "Lot or box",
    "cost": "Cost of one",
    "place": "Place in the rack",
    "remarks": "Remarks",
}
NEEDED = ("species", *LENGTHS)
# What may be said once for all rows, where no column says it.
FOR_ALL = ("species", "cut", "received_on", "supplier", "lot", "place")
_SAID = {
    "number": "number no nr id code blank tag board",
    "how_many": "quantity qty pieces pcs count many alike",
    "species": "species wood timber material",
    "cut": "cut sawn grain",
    "length": "length len long l",
    "width": "width wide w",
    "thickness": "thickness thick t",
    "moisture": "moisture mc emc",
    "received_on": "received arrived date day came bought",
    "supplier": "supplier vendor source dealer merchant from",
    "lot": "lot box batch",
    "cost": "cost price paid",
    "place": "place location shelf bin where",
    "remarks": "remarks remark notes note comment comments",
}
_WORD_OF = {word: name for name, words in _SAID.items() for word in words.split()}
_UNIT_WORDS = {"mm": "mm", "cm": "cm", "in": "in", "inch": "in", "inches": "in", '"': "in"}
_PIECES = re.compile(r'[^\W_]+|"', re.UNICODE)


@dataclass(frozen=True, slots=True)
class Reading:
    """How a file is read: letters, separator, the row of headings, decimals, days, and what each column is.

    ``columns`` tells for each of our names which column has it, counted from 0; ``units`` in which unit a bare length
    is; ``rest`` what holds for all rows. ``again``: rows that an earlier file had too are further blanks.
    """

    encoding: str = "utf-8"
    delimiter: str = ","
    head: int = 1
    decimal: str = "."
    days: str = "dmy"
    columns: dict[str, int] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    rest: dict[str, str] = field(default_factory=dict)
    again: bool = False

    def as_json(self) -> dict[str, Any]:
        """Give it as it is kept."""
        return asdict(self)

    @classmethod
    def of_json(cls, kept: dict[str, Any]) -> Self:
        """Take it as it was kept."""
        return cls(**kept)


def fingerprint_of(heads: Sequence[str]) -> str:
    """Make what a file with these headings is known again by."""
    return hashlib.sha256("\x1f".join(head.casefold() for head in heads).encode()).hexdigest()


def guess_columns(heads: Iterable[str], usual_unit: str) -> tuple[dict[str, int], dict[str, str]]:
    """Guess what each column is, by the words in its heading; the first one of a kind has it."""
    columns: dict[str, int] = {}
    units: dict[str, str] = {}
    for place, head in enumerate(heads):
        words = [word.casefold() for word in _PIECES.findall(head.replace("_", " "))]
        name = head.casefold() if head.casefold() in LABELS else _first(words)
        # The last one: "width in mm" is not in inches.
        unit = next((_UNIT_WORDS[word] for word in reversed(words[1:]) if word in _UNIT_WORDS), "")
        if name is None or (name in columns and not (name in LENGTHS and unit == "mm" and units[name] != "mm")):
            continue
        columns[name] = place
        if name in LENGTHS:
            units[name] = unit or usual_unit
    return columns, units


def _first(words: list[str]) -> str | None:
    return next((_WORD_OF[word] for word in words if word in _WORD_OF), None)


def guess_decimal(sheet: Sheet, delimiter: str) -> str:
    """Tell whether decimals stand behind a comma."""
    comma = point = 0
    for record in sheet.records[:500]:
        for cell in record.cells:
            comma += bool(re.fullmatch(r"\s*-?\d+,(\d{1,2}|\d{4,})\s*\D{0,4}", cell))
            point += bool(re.fullmatch(r"\s*-?\d+\.\d+\s*\D{0,4}", cell))
    if comma == point:
        return "," if delimiter == ";" else "."
    return "," if comma > point else "."


def guess_days(cells: Iterable[str]) -> str:
    """Tell the order of day and month, where the days themselves tell it; else the day comes first."""
    for cell in cells:
        found = re.match(r"\s*(\d{1,2})\s*[./-]\s*(\d{1,2})\s*[./-]\s*\d{2,4}", cell)
        if found and int(found[1]) > 12:
            return "dmy"
        if found and int(found[2]) > 12:
            return "mdy"
    return "dmy"
