"""Which blanks the rows of a file give: what each says, what is wrong with it, which are here already."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_slug

from boards.intake import MOST_IN_A_BOX, USUAL_MM, USUAL_MOISTURE
from boards.models import Blank, Cut, StockRow
from boards.stock.cells import (
    Unclear,
    count_of,
    cut_of,
    day_of,
    length_of,
    money,
    number_of,
    percent,
    text_of,
)
from boards.stock.columns import LABELS, LENGTHS, NEEDED, Reading
from boards.stock.sheet import Sheet
from boards.tables.cells import harmless
from shop.csvfiles import Record
from shop.models import Species

REASON = "why it was left out"
NEW = "new"  # in the place of a wood of ours: one is made of this name
LEAVE_OUT = "out"
MOST_WOODS = 60
_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?")  # stays one, whatever it begins with
_TEXTS = ("supplier", "lot", "place", "remarks")
_A_QUERY = 500  # numbers or fingerprints asked for at once


@dataclass(slots=True)
class Row:
    """One row: what it says, in our terms, and what became of it."""

    record: Record
    values: dict[str, Any] = field(default_factory=dict)
    wood: str = ""
    many: int = 1
    wrong: list[str] = field(default_factory=list)
    asks: bool = False  # which wood is meant
    here: str = ""  # why it is not taken in again
    fingerprint: str = ""

    @property
    def is_good(self) -> bool:
        """Tell whether it gives blanks."""
        return not self.wrong and not self.here

    @property
    def sawn(self) -> str:
        """Say how it was sawn."""
        return Cut(self.values.get("cut", Cut.QUARTER)).label.lower()

    @property
    def only_asks(self) -> bool:
        """Tell whether all that it lacks is a word on its wood."""
        return self.asks and len(self.wrong) == 1


@dataclass(slots=True)
class Found:
    """All rows of a file, and what has to be said before they can be taken in."""

    rows: list[Row]
    woods: dict[str, int]  # words for woods that are not ours, and in how many rows each stands
    missing: list[str]  # what neither a column nor a word for all rows says

    @property
    def good(self) -> list[Row]:
        """Those that give blanks."""
        return [row for row in self.rows if row.is_good]

    @property
    def wrong(self) -> list[Row]:
        """Those with something wrong."""
        return [row for row in self.rows if row.wrong]

    @property
    def here(self) -> list[Row]:
        """Those that are here already."""
        return [row for row in self.rows if row.here and not row.wrong]

    @property
    def blanks(self) -> int:
        """How many blanks would come in."""
        return sum(row.many for row in self.good)

    def outside(self) -> dict[str, int]:
        """Count the rows whose figures are unusual: a wrong unit shows here first."""
        counted: Counter[str] = Counter()
        for row in self.good:
            for name, (low, high) in USUAL_MM.items():
                counted[name] += not low <= row.values[name] <= high
            moisture = row.values.get("moisture")
            counted["moisture"] += moisture is not None and not USUAL_MOISTURE[0] <= moisture <= USUAL_MOISTURE[1]
        return {name: count for name, count in counted.items() if count}


def find(sheet: Sheet, reading: Reading, woods: dict[str, str], today: date) -> Found:
    """Read all rows of a file.

    Parameters
    ----------
    sheet : Sheet
        The file, cut into cells.
    reading : Reading
        What its columns are.
    woods : dict
        For words that are no name of a wood of ours: which one is meant, by its key, or `NEW`, or `LEAVE_OUT`.
    today : date
        The day.
    """
    missing = [name for name in NEEDED if name not in reading.columns and not reading.rest.get(name)]
    if missing:
        return Found([], {}, missing)
    ours = _Woods()
    rows, unknown = [], Counter()
    for record in sheet.records:
        row = _row(record, reading, today)
        _find_wood(row, ours, woods, unknown)
        row.fingerprint = _fingerprint(row)
        rows.append(row)
    _find_numbers(rows)
    if not reading.again:
        _find_repeats(rows)
    return Found(rows, dict(unknown.most_common()), [])


class _Woods:
    """Our woods, found by their names however those are written, or by their botanical ones."""

    def __init__(self) -> None:
        woods = list(Species.objects.all())
        self.by_key = {str(wood.pk): wood for wood in woods}
        self.by_name = {wood.botanical.casefold(): wood for wood in woods if wood.botanical}
        self.by_name |= {wood.name.casefold(): wood for wood in woods}
        self.exactly = {wood.name: wood for wood in woods}

    def named(self, word: str) -> Species | None:
        return self.exactly.get(word) or self.by_name.get(word.casefold())


def _row(record: Record, reading: Reading, today: date) -> Row:
    row = Row(record)

    def take(name: str, parse: Callable[[str], Any]) -> None:
        place = reading.columns.get(name)
        cell = record.cells[place] if place is not None and place < len(record.cells) else ""
        if not cell.strip():
            cell = reading.rest.get(name, "")
        if not cell.strip():
            if name in NEEDED:
                row.wrong.append(f"{LABELS[name]} is missing.")
            return
        try:
            row.values[name] = parse(cell)
        except Unclear as unclear:
            row.wrong.append(f"{LABELS[name]} {unclear}.")

    for name in LENGTHS:
        unit = reading.units.get(name, "mm")
        take(name, lambda cell, unit=unit: length_of(cell, reading.decimal, unit))
    take("species", lambda cell: text_of(cell, 60))
    take("number", _number)
    take("how_many", lambda cell: count_of(cell, MOST_IN_A_BOX))
    take("cut", cut_of)
    take("moisture", lambda cell: number_of(cell, reading.decimal, 1, Decimal(200), strip=percent))
    take("received_on", lambda cell: day_of(cell, reading.days, today))
    take("cost", lambda cell: number_of(cell, reading.decimal, 2, Decimal("9999999.99"), strip=money))
    for name in _TEXTS:
        longest = Blank._meta.get_field(name).max_length
        take(name, lambda cell, longest=longest: text_of(cell, longest))
    row.many = row.values.pop("how_many", 1)
    row.wood = row.values.pop("species", "")
    if row.many > 1 and "number" in row.values:
        row.wrong.append(f"It has a number of its own and stands for {row.many}; a number is one blank's.")
    return row


def _number(cell: str) -> str:
    number = text_of(cell, Blank._meta.get_field("number").max_length)
    try:
        validate_slug(number)
    except ValidationError:
        raise Unclear(f"“{number}” has more than letters, digits, hyphens and underscores in it") from None
    return number


def _find_wood(row: Row, ours: _Woods, woods: dict[str, str], unknown: Counter[str]) -> None:
    if not row.wood:
        return
    choice = woods.get(row.wood, "")
    wood = ours.named(row.wood) or ours.by_key.get(choice)
    if wood is not None:
        row.values["species"] = wood
        return
    unknown[row.wood] += 1
    if choice == NEW:
        row.values["species"] = Species(name=row.wood)
    elif choice == LEAVE_OUT:
        row.wrong.append(f"Wood {row.wood} is left out, as was said.")
    else:
        row.asks = True
        row.wrong.append(f"Wood {row.wood} is none of ours. Say which is meant.")


def _fingerprint(row: Row) -> str:
    """Make what a row is known again by: what it says, however that is written."""
    said = {name: str(value) for name, value in row.values.items() if name != "species"}
    for name in LENGTHS:
        if name in row.values:
            said[name] = f"{row.values[name]:.6f}"
    said |= {"wood": row.wood.casefold(), "many": str(row.many)}
    return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()[:32]


def _find_numbers(rows: list[Row]) -> None:
    """Hold numbers against those in the database and against one another."""
    numbers = [row.values["number"] for row in rows if "number" in row.values]
    here = {blank.number.casefold(): blank for blank in _blanks_with(numbers)}
    seen: dict[str, Row] = {}
    for row in rows:
        number = row.values.get("number", "").casefold()
        if not number:
            continue
        if first := seen.get(number):
            if first.fingerprint == row.fingerprint:
                row.here = f"the same as line {first.record.line}"
            else:
                row.wrong.append(f"Number {row.values['number']} stands in line {first.record.line} already.")
            continue
        seen[number] = row
        if (blank := here.get(number)) and not row.wrong:
            if differs := _differences(row, blank):
                row.wrong.append(f"{blank.number} is here already, with another {' and another '.join(differs)}.")
            else:
                row.here = f"{blank.number} is here already"


def _blanks_with(numbers: list[str]) -> Iterable[Blank]:
    spelt = sorted({way for number in numbers for way in (number, number.upper(), number.lower())})
    for start in range(0, len(spelt), _A_QUERY):
        yield from Blank.objects.filter(number__in=spelt[start : start + _A_QUERY]).select_related("species")


def _differences(row: Row, blank: Blank) -> list[str]:
    """Name what a row says otherwise than a blank that is here; what it does not say differs in nothing."""
    differs = []
    for name, value in row.values.items():
        kept = getattr(blank, name)
        same = kept.pk == value.pk if name == "species" else (kept or "") == (value or "") or kept == value
        if name != "number" and not same:
            differs.append({"species": "wood", "cut": "way of sawing"}.get(name, LABELS[name].lower()))
    return differs


def _find_repeats(rows: list[Row]) -> None:
    """Find rows without a number that an earlier file had too: as many of them as it had are here already."""
    nameless = [row for row in rows if "number" not in row.values and not row.wrong]
    earlier = _earlier(sorted({row.fingerprint for row in nameless}))
    for row in nameless:
        if earlier[row.fingerprint]:
            row.here = f"came in by {earlier[row.fingerprint].pop(0)}"


def _earlier(fingerprints: list[str]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {fingerprint: [] for fingerprint in fingerprints}
    for start in range(0, len(fingerprints), _A_QUERY):
        part = fingerprints[start : start + _A_QUERY]
        lines = StockRow.objects.filter(fingerprint__in=part).order_by("file", "line")
        for fingerprint, file, _, line in lines.values_list("fingerprint", "file__name", "file", "line").distinct():
            found[fingerprint].append(f"{file}, line {line}")
    return found


def left_out_csv(heads: Iterable[str], rows: Iterable[Row], delimiter: str) -> str:
    """Write the rows that were left out as they came, each with the reason behind it; mended, they can come again."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\r\n")
    heads = [head for head in heads if head != REASON]
    writer.writerow([*map(harmless, heads), REASON])
    for row in rows:
        cells = [*row.record.cells, *[""] * len(heads)][: len(heads)]
        writer.writerow([*(cell if _NUMBER.fullmatch(cell) else harmless(cell) for cell in cells), " ".join(row.wrong)])
    return out.getvalue()
