"""What stands in a cell, as a spreadsheet or a person wrote it: numbers, lengths, days, the way of sawing."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal, InvalidOperation

from boards.models import Cut
from geometry.errors import LengthError
from geometry.units import Unit, parse_length

_POINTS = re.compile(r"\d{1,3}(\.\d{3})+(,\d+)?")
_COMMAS = re.compile(r"\d{1,3}(,\d{3})+(\.\d+)?")
_PLAIN = re.compile(r"-?(\d+\.?\d*|\.\d+)")
# Days since the end of 1899, as spreadsheets count them (Office Open XML, 18.17.4.1); from 1954 to 2064.
_SERIAL_FROM, _SERIAL_TO, _SERIAL_ZERO = 20_000, 60_000, date(1899, 12, 30)
_MONTHS = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"]
_CUTS = {
    **dict.fromkeys(("quarter", "quartersawn", "quartered", "q", "qs", "vertical"), Cut.QUARTER),
    **dict.fromkeys(("rift", "riftsawn", "r", "rs"), Cut.RIFT),
    **dict.fromkeys(("flat", "flatsawn", "plain", "plainsawn", "slab", "slabsawn", "f", "fs"), Cut.FLAT),
}


class Unclear(ValueError):
    """A cell that cannot be read; the message says why."""


def text_of(cell: str, longest: int) -> str:
    """Read words as they stand, without the room around them."""
    text = cell.strip()
    if len(text) > longest:
        raise Unclear(f"is {len(text)} characters long; {longest} is the most")
    return text


def pointed(cell: str, decimal: str) -> str:
    """Write a number with a point before its decimals and nothing between its thousands."""
    text = cell.strip().replace("\u00a0", " ").replace("\u202f", " ").replace("\u2212", "-")
    if decimal == "," and _POINTS.fullmatch(text):
        return text.replace(".", "").replace(",", ".")
    if decimal == "." and _COMMAS.fullmatch(text):
        return text.replace(",", "")
    return text.replace(",", ".") if decimal == "," and text.count(",") == 1 and "." not in text else text


def number_of(cell: str, decimal: str, places: int, most: Decimal, *, strip: Callable[[str], str] = str) -> Decimal:
    """Read a number that is not less than nothing."""
    text = pointed(strip(cell), decimal)
    if not _PLAIN.fullmatch(text):
        raise Unclear(f"“{_short(cell)}” is not a number")
    try:
        value = Decimal(text)
    except InvalidOperation:
        raise Unclear(f"“{_short(cell)}” is not a number") from None
    if value < 0:
        raise Unclear("cannot be negative")
    if value > most:
        raise Unclear(f"“{_short(cell)}” is more than can be meant")
    if value != round(value, places):
        raise Unclear(f"“{_short(cell)}” has more than {places} decimal{'s' if places > 1 else ''}")
    return value


def money(cell: str) -> str:
    """Leave out the sign or the letters of a currency."""
    kept = "".join(letter for letter in cell if unicodedata.category(letter) != "Sc")
    return re.sub(r"^[A-Za-z]{3}\s+|\s*[A-Za-z]{3}$", "", kept.strip())


def percent(cell: str) -> str:
    """Leave out the sign."""
    return cell.strip().removesuffix("%")


def length_of(cell: str, decimal: str, unit: str) -> Decimal:
    """Read a length: a bare number in the unit of its column, any other written out."""
    text = pointed(cell, decimal)
    if unit == "cm" and _PLAIN.fullmatch(text):
        text += " cm"
    try:
        length = parse_length(text, Unit.INCH if unit == "in" else Unit.MM)
    except LengthError as error:
        said = error.problems[0].message
        raise Unclear(f"“{_short(cell)}”: {said[:1].lower()}{said[1:].rstrip('.')}") from None
    if length == 0:
        raise Unclear("cannot be zero")
    return length


def day_of(cell: str, order: str, today: date) -> date:
    """Read a day: year first, or in the given order, with a month in letters, or counted as spreadsheets do."""
    text = re.sub(r"[T ]\d{1,2}:\d{2}.*$", "", cell.strip())
    day = _numbered(text, order, today) or _lettered(text, today)
    if day is None and text.isascii() and text.isdigit() and _SERIAL_FROM <= int(text) <= _SERIAL_TO:
        day = _SERIAL_ZERO + timedelta(days=int(text))
    if day is None:
        raise Unclear(f"“{_short(cell)}” is not a day")
    if day > today + timedelta(days=1):
        raise Unclear(f"{day} is still to come")
    if day.year < today.year - 50:
        raise Unclear(f"{day} is more than fifty years ago")
    return day


def _numbered(text: str, order: str, today: date) -> date | None:
    found = re.fullmatch(r"(\d{1,4})\s*[./-]\s*(\d{1,2})\s*[./-]\s*(\d{1,4})\.?", text)
    if found is None:
        return None
    first, second, third = found.groups()
    if len(first) > 2:
        return _date(first, second, third, today)
    day, month = (first, second) if order == "dmy" else (second, first)
    return _date(third, month, day, today)


def _lettered(text: str, today: date) -> date | None:
    parts = re.findall(r"\d+|[A-Za-z]+", text)
    if len(parts) != 3:
        return None
    letters = [part for part in parts if part.isalpha()]
    if len(letters) != 1 or letters[0][:3].lower() not in _MONTHS:
        return None
    month = str(_MONTHS.index(letters[0][:3].lower()) + 1)
    first, second = (part for part in parts if not part.isalpha())
    return _date(first, month, second, today) if len(first) == 4 else _date(second, month, first, today)


def _date(year: str, month: str, day: str, today: date) -> date | None:
    if len(year) not in (2, 4) or len(day) > 2:
        return None
    whole = int(year)
    if len(year) == 2:
        whole += today.year // 100 * 100
        whole -= 100 if whole > today.year + 1 else 0
    try:
        return date(whole, int(month), int(day))
    except ValueError:
        return None


def cut_of(cell: str) -> str:
    """Read how a board was sawn."""
    word = re.sub(r"[^a-z]", "", cell.casefold())
    found = _CUTS.get(word) or _CUTS.get(word.removesuffix("sawn")) or _CUTS.get(word.removesuffix("grain"))
    if found is None:
        raise Unclear(f"“{_short(cell)}” is none of quartersawn, rift and flatsawn")
    return found


def count_of(cell: str, most: int) -> int:
    """Read how many."""
    text = re.sub(r"[.,]0+$", "", cell.strip())
    if not (text.isascii() and text.isdigit() and len(text) < 7):
        raise Unclear(f"“{_short(cell)}” is not a whole number")
    if not 1 <= int(text) <= most:
        raise Unclear(f"{int(text)} is not from 1 to {most}")
    return int(text)


def _short(cell: str) -> str:
    text = " ".join(cell.split())
    return text if len(text) <= 40 else text[:39] + "…"
