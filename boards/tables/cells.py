"""How a value is written into a cell, and how a cell is made harmless to spreadsheets without losing a letter of it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from boards.tables.table import Kind
from geometry.units import LengthStyle, format_inch, format_length

# What makes a spreadsheet take a cell for a formula, in its plain and its full-width forms; a tab or a line end at the
# beginning hides what follows. The list is that of the OWASP Cheat Sheet on CSV injection.
_BEGINS = frozenset("=+-@\t\r\n＝＋－＠﹢﹣﹦﹫−")
# A spreadsheet looks behind these for what a cell begins with.
_PASSED_OVER = " \u00a0\u3000\u200b\u200c\u200d\u2060\ufeff'\"`´‘’“”«»"


def is_risky(text: str) -> bool:
    """Tell whether a spreadsheet might carry out a text instead of showing it."""
    begins = text.lstrip(_PASSED_OVER)
    return bool(begins) and begins[0] in _BEGINS


def harmless(text: str) -> str:
    """Put an apostrophe before a risky text. `as_it_was` takes it away again, and never takes one that was there."""
    return f"'{text}" if is_risky(text) else text


def as_it_was(text: str) -> str:
    """Give back the text that `harmless` was given.

    The apostrophe is among what is passed over, so that a text is risky with it if it is without it: what begins with
    an apostrophe and is risky behind it can only have got that one here.
    """
    return text[1:] if text.startswith("'") and is_risky(text[1:]) else text


@dataclass(frozen=True, slots=True)
class Marks:
    """What stands between cells and before decimals, and whether the file says that it is UTF-8."""

    delimiter: str = ","
    decimal: str = "."
    bom: bool = True


def write(value: Any, kind: Kind, marks: Marks) -> str:
    """Write a value as a cell."""
    if value is None:
        return ""
    return _WRITE[kind](value, marks)


def in_own_unit(value: Decimal | None, style: LengthStyle, marks: Marks) -> str:
    """Write a length in the shop's unit: a number of inches, or the fraction as it stands on the pages."""
    if value is None:
        return ""
    if style is LengthStyle.INCH_FRACTION:
        return harmless(format_length(value, style).replace("\u00a0", " ").replace("\u2212", "-"))
    return _number(Decimal(format_inch(value, 6, with_unit=False)), marks)


def _number(value: Any, marks: Marks) -> str:
    text = f"{value.normalize():f}" if isinstance(value, Decimal) else str(value)
    if text == "-0":
        text = "0"
    return text.replace(".", marks.decimal) if marks.decimal != "." else text


def _moment(value: datetime, _marks: Marks) -> str:
    return value.astimezone(UTC).isoformat()


def _day(value: date, _marks: Marks) -> str:
    return value.isoformat()


def _json(value: Any, _marks: Marks) -> str:
    return "" if value in ({}, []) else harmless(json.dumps(value, ensure_ascii=False, default=str))


_WRITE: dict[Kind, Callable[[Any, Marks], str]] = {
    Kind.TEXT: lambda value, _marks: harmless(str(value)),
    Kind.NUMBER: _number,
    Kind.LENGTH: _number,
    Kind.DAY: _day,
    Kind.MOMENT: _moment,
    Kind.YES_NO: lambda value, _marks: "yes" if value else "no",
    Kind.JSON: _json,
}
