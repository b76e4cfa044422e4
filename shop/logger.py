"""A logger's file: what its columns are, and the readings in it. Nothing is kept here."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from itertools import islice
from typing import Final

from shop.csvfiles import BrokenFile, decode, guess_delimiter, guess_encoding, records
from shop.models.air import COLDEST, HOTTEST

MOST_BYTES: Final = 12_000_000
MOST_ROWS: Final = 250_000
ORDERS: Final = {"dmy": "day, month, year", "mdy": "month, day, year", "ymd": "year, month, day"}
_DATE: Final = re.compile(r"(\d{1,4})\s*[./-]\s*(\d{1,2})\s*[./-]\s*(\d{1,4})")
_CLOCK: Final = re.compile(r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2})(?:[.,]\d+)?)?\s*([ap])?\.?(?:m\.?)?", re.IGNORECASE)
_WHOLE: Final = re.compile(rf"{_DATE.pattern}[\s,T]+{_CLOCK.pattern}", re.IGNORECASE)
_NUMBER: Final = re.compile(r"[-+\u2212]?(?:\d+(?:[.,]\d*)?|[.,]\d+)")
_UNITS: Final = re.compile(r"\s*(?:°|º|deg)?\s*(?:[CF]|%|% ?RH|RH)?\s*", re.IGNORECASE)


class Unreadable(BrokenFile):
    """A file without readings, or a line that cannot be read; the message says why, in words."""


@dataclass(frozen=True, slots=True)
class Columns:
    """Which column, counted from 0, holds what. ``time`` is None where day and time stand in one column."""

    when: int
    temperature: int
    humidity: int
    time: int | None = None
    fahrenheit: bool = False
    order: str = "dmy"


@dataclass(frozen=True, slots=True)
class Table:
    """A file cut into lines and columns: each row with the number of its line."""

    heading: list[str]
    rows: list[tuple[int, list[str]]]

    @property
    def known_as(self) -> str:
        """What the file is known again by."""
        return " | ".join(self.heading)[:500]


@dataclass(slots=True)
class Found:
    """What was read from a file: the readings with their lines, the lines that could not be read, and why."""

    readings: list[tuple[int, datetime, float, float]] = field(default_factory=list)
    bad: list[tuple[int, str]] = field(default_factory=list)
    twice: int = 0


def decoded(data: bytes) -> str:
    """Give the text of a file, whichever way it was written."""
    return decode(data, guess_encoding(data))


def table_of(text: str) -> Table:
    """Cut a file into columns. What stands above its heading, as loggers write it, is passed over."""
    delimiter = guess_delimiter(text)
    # A stray quotation mark in a logger's own words above the heading is no fault of the readings.
    found = list(islice(records(text, delimiter, strict=False), MOST_ROWS + 1))
    if not found:
        raise Unreadable("There is nothing in this file.")
    if len(found) > MOST_ROWS:
        raise Unreadable(f"It has more than {MOST_ROWS} lines. Cut it into several files.")
    wide = [len(record.cells) for record in found[:200] if len(record.cells) >= 2]
    if not wide:
        raise Unreadable("There are no columns in it. Save it as CSV, with commas, semicolons or tabs between columns.")
    width = max(set(wide), key=lambda width: (wide.count(width), width))
    rows = []
    for record in found:
        if len(record.cells) in (width, width + 1):
            rows.append((record.line, [cell.strip() for cell in record.cells]))
        elif rows:
            rows.append((record.line, list(record.cells)))
    if not rows:
        raise Unreadable("There are no readings in it.")
    first = rows[0][1]
    if any(_looks_read(cell) for cell in first):
        return Table([f"Column {place}" for place in range(1, width + 1)], rows)
    return Table([cell or f"Column {place}" for place, cell in enumerate(first, start=1)], rows[1:])


def _looks_read(cell: str) -> bool:
    cell = cell.strip()
    return bool(_NUMBER.match(cell) and (_DATE.match(cell) or _figure_of(cell) is not None))


def guessed(table: Table) -> Columns:
    """Guess which column holds what, by the words above it; the person decides."""
    heads = [head.lower() for head in table.heading]

    def first(*words: str, but: Iterable[int | None] = ()) -> int | None:
        taken = set(but)
        return next((k for k, head in enumerate(heads) if k not in taken and any(word in head for word in words)), None)

    humidity = first("humid", "rh", "r.h", "%")
    temperature = first("temp", "°c", "°f", "celsius", "fahrenheit", but=[humidity])
    when = first("date", "timestamp", "when", "day", but=[humidity, temperature])
    time = first("time", "hour", "clock", but=[humidity, temperature, when])
    if when is None:
        when, time = time, None
    rest = [k for k in range(len(heads)) if k not in (when, time, temperature, humidity)]
    when = when if when is not None else (rest.pop(0) if rest else 0)
    temperature = temperature if temperature is not None else (rest.pop(0) if rest else 0)
    humidity = humidity if humidity is not None else (rest.pop(0) if rest else 0)
    sample = [row[when] for _, row in table.rows[:5000] if len(row) > when]
    if time is not None and any(_WHOLE.match(cell) for cell in sample[:20]):
        time = None  # the day's column has the time as well
    hot = heads[temperature]
    return Columns(
        when, temperature, humidity, time, "°f" in hot or "fahrenheit" in hot or "(f)" in hot, _order(sample)
    )


def _order(cells: list[str]) -> str:
    """Tell the order of day, month and year where the dates themselves tell it; else the day is taken first."""
    for cell in cells:
        if found := _DATE.match(cell):
            if len(found[1]) == 4:
                return "ymd"
            if int(found[1]) > 12:
                return "dmy"
            if int(found[2]) > 12:
                return "mdy"
    return "dmy"


def read(table: Table, columns: Columns, *, zone: tzinfo, now: datetime) -> Found:
    """Read all lines of a file; a bad line stops nothing. Times without a zone of their own are the shop's."""
    found, seen = Found(), set()
    latest = now + timedelta(days=1)
    for line, row in table.rows:
        try:
            at, temperature, humidity = _reading(row, columns, zone)
            if at > latest:
                raise Unreadable("That time is still to come.")
        except Unreadable as error:
            found.bad.append((line, str(error)))
            continue
        if at in seen:  # the hour that comes twice when clocks are set back is read as its second time
            at = at.astimezone(zone).replace(fold=1).astimezone(UTC)
        if at in seen:
            found.twice += 1
            continue
        seen.add(at)
        found.readings.append((line, at, temperature, humidity))
    return found


def _reading(row: list[str], columns: Columns, zone: tzinfo) -> tuple[datetime, float, float]:
    places = [columns.when, columns.temperature, columns.humidity, columns.time or 0]
    if max(places) >= len(row):
        raise Unreadable(f"It has only {len(row)} column{'s' if len(row) > 1 else ''}.")
    text = row[columns.when] if columns.time is None else f"{row[columns.when]} {row[columns.time]}"
    at = when(text, columns.order, zone)
    temperature = _number(row[columns.temperature], "The temperature")
    if columns.fahrenheit:
        temperature = (temperature - 32) / 1.8
    if not COLDEST <= temperature <= HOTTEST:
        raise Unreadable(f"A temperature of {temperature:.0f} °C cannot be.")
    humidity = _number(row[columns.humidity], "The humidity")
    if not 0 <= humidity <= 100:
        raise Unreadable(f"A humidity of {humidity:.0f} % cannot be.")
    return at, temperature, humidity


def when(text: str, order: str, zone: tzinfo) -> datetime:
    """Read a day with its time, as loggers and spreadsheets write them."""
    text = text.strip()
    if found := _WHOLE.fullmatch(text):
        parts = [int(part) for part in found.groups()[:3]]
        year, month, day = _in_order(parts, "ymd" if len(found[1]) == 4 else order)
        hour, minute, second = int(found[4]), int(found[5]), int(found[6] or 0)
        if found[7]:
            if not 1 <= hour <= 12:
                raise Unreadable(f"“{text[:40]}” is no time.")
            hour = hour % 12 + (12 if found[7].lower() == "p" else 0)
        try:
            return datetime(year, month, day, hour, minute, second, tzinfo=zone).astimezone(UTC)
        except (ValueError, OverflowError) as error:
            raise Unreadable(f"“{text[:40]}” is no day or no time.") from error
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        at = None
    if at is None or (len(text) < 12 and _DATE.fullmatch(text)):
        if _DATE.fullmatch(text):
            raise Unreadable("The day has no time.")
        raise Unreadable(f"“{text[:40]}” is no day with a time." if text else "The day is missing.")
    try:
        return (at if at.tzinfo else at.replace(tzinfo=zone)).astimezone(UTC)
    except (ValueError, OverflowError) as error:
        raise Unreadable(f"“{text[:40]}” is no day or no time.") from error


def _in_order(parts: list[int], order: str) -> tuple[int, int, int]:
    named = dict(zip(order, parts, strict=True))
    year = named["y"]
    return year + 2000 if year < 100 else year, named["m"], named["d"]


def _figure_of(text: str) -> float | None:
    found = _NUMBER.match(text)
    if not found or not _UNITS.fullmatch(text[found.end() :]):
        return None
    return float(found[0].replace("\u2212", "-").replace(",", "."))


def _number(text: str, what: str) -> float:
    text = text.strip()
    if not text:
        raise Unreadable(f"{what} is missing.")
    figure = _figure_of(text)
    if figure is None:
        raise Unreadable(f"{what}, “{text[:40]}”, is not a number.")
    return figure
