"""What people write for a length, and millimetres: the only place where the two meet.

Reading is exact (integers and fractions, never binary floats); writing rounds decimal values half to
even, as ASTM E29 clause 6.4.3 does.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_EVEN, Decimal
from enum import Enum
from fractions import Fraction
from typing import Final

from geometry.errors import LengthError

Number = Decimal | float | int


class Unit(Enum):
    """What a bare number means."""

    MM = "mm"
    INCH = "in"


class LengthStyle(Enum):
    """How lengths are written out, as the shop's setting has it."""

    MM = "mm"
    INCH_DECIMAL = "inch"
    INCH_FRACTION = "fraction"


MM_PER_INCH: Final = Fraction(254, 10)  # exact since the agreement of 1959
LONGEST_TEXT: Final = 40
LONGEST_MM: Final = 100_000

_MM_PER: Final = {
    **dict.fromkeys(("mm", "millimetre", "millimetres", "millimeter", "millimeters"), Fraction(1)),
    **dict.fromkeys(("cm", "centimetre", "centimetres", "centimeter", "centimeters"), Fraction(10)),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"'), MM_PER_INCH),
}
_VULGAR: Final = {
    **{"½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5", "⅘": "4/5"},
    **{"⅙": "1/6", "⅚": "5/6", "⅐": "1/7", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8", "⅑": "1/9", "⅒": "1/10"},
}
# One character each that keyboards and word processors put in the place of the plain one.
_ALIKE: Final = {"/": "⁄∕", '"': "″”“", "-": "‐‑‒–−", "'": "′’", " ": "\u00a0\u2009\u202f\t"}
_PLAIN: Final = {ord(odd): plain for plain, odds in _ALIKE.items() for odd in odds}

_AMOUNT: Final = re.compile(
    r"(?P<decimal>[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)"
    r"|(?:(?P<whole>[0-9]+)(?: +|-))?(?P<over>[0-9]+) */ *(?P<under>[0-9]+)"
)
_SPLIT: Final = re.compile(r"(?P<sign>[+-]?)(?P<amount>[0-9.,](?:[0-9.,/ -]*[0-9.,])?) *(?P<unit>.*)")
_THOUSANDS: Final = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")
# What `format_fraction` leaves over; spaces on both sides, so that the hyphen of 25-1/2 is not taken for it.
_LEFT_OVER: Final = re.compile(r"(?P<inches>.*[^ ]) +(?P<sign>[+-]) +(?P<over>0?\.00[1-9])")
_SPACE, _MINUS = "\u00a0", "\u2212"  # no line breaks within a length, and no hyphen reads like "to"


def parse_length(text: str, unit: Unit | None = Unit.MM, *, allow_negative: bool = False) -> Decimal:
    """Read a length as a person writes it.

    ``25 1/2``, ``25-1/2"``, ``25½``, ``25 1/2 in``, ``25.5"``, ``648``, ``648 mm`` and ``64,8 cm`` are all read, and
    so is what `format_fraction` writes: ``18 53/64 in + 0.003``. A plus before the figures, as a digital caliper sends
    it, says nothing more.

    Parameters
    ----------
    text : str
        What was written.
    unit : Unit or None
        What a number without a unit means; None asks for the unit to be written.
    allow_negative : bool
        Whether one leading minus is taken.

    Returns
    -------
    Decimal
        Millimetres, to six places, half to even. Every 1/64 in is exact there.

    Raises
    ------
    LengthError
        If this is no length, or could be two; the message says what would do.
    """
    if len(text) > LONGEST_TEXT:
        raise _refused("This is too long for a length.", unit)
    plain = text.translate(_PLAIN).replace("''", '"').strip().lower()
    for sign, fraction in _VULGAR.items():
        plain = plain.replace(sign, f" {fraction}")
    plain = plain.strip()
    if not plain:
        raise _refused("There is no length here.", unit)
    left_over = _LEFT_OVER.fullmatch(plain)
    parts = _SPLIT.fullmatch(left_over["inches"] if left_over else plain)
    if parts is None:
        raise _refused("This cannot be read as a length.", unit)
    if parts["sign"] == "-" and not allow_negative:
        raise _refused("A length here cannot be less than nothing; leave the minus out.", unit)
    mm_per = _mm_per(parts["unit"], unit)
    value = _amount(parts["amount"], unit) * mm_per * (-1 if parts["sign"] == "-" else 1)
    if left_over:
        if mm_per != MM_PER_INCH:
            raise _refused("Only inches have a fraction and something over.", unit)
        value += Fraction(left_over["sign"] + left_over["over"]) * MM_PER_INCH
        if value < 0 and not allow_negative:
            raise _refused("A length here cannot be less than nothing.", unit)
    if abs(value) > LONGEST_MM:
        raise _refused("This is longer than 100 m.", unit)
    return Decimal(round(value * 10**6)).scaleb(-6)


def _amount(written: str, unit: Unit | None) -> Fraction:
    """Read the figures, without their unit."""
    match = _AMOUNT.fullmatch(written)
    if match is None:
        if "," in written and "." in written:
            raise _refused("A point and a comma together can be read in two ways; use one, before the decimals.", unit)
        raise _refused("These figures cannot be read as one number.", unit)
    if match["decimal"]:
        if _THOUSANDS.fullmatch(match["decimal"]):
            whole, decimals = match["decimal"].split(",")
            raise _refused(f"This can be read in two ways; write {whole}{decimals} or {whole}.{decimals}.", unit)
        return Fraction(match["decimal"].replace(",", ".").rstrip("."))
    over, under = int(match["over"]), int(match["under"])
    if under == 0:
        raise _refused("A fraction cannot have 0 below its line.", unit)
    if match["whole"] and over >= under:
        raise _refused(f"{over}/{under} is not less than one, so the whole figure before it must be wrong.", unit)
    return int(match["whole"] or 0) + Fraction(over, under)


def _mm_per(written: str, unit: Unit | None) -> Fraction:
    """Find how many millimetres one of what was written after the figures is."""
    if not written:
        if unit is None:
            raise _refused("The unit is missing.", unit)
        return Fraction(1) if unit is Unit.MM else MM_PER_INCH
    try:
        return _MM_PER[written]
    except KeyError:
        pass
    if written.startswith(("'", "ft", "foot", "feet")):
        raise _refused("Feet are not read here; write inches or millimetres.", unit)
    if re.match(r"e[+-]?[0-9]", written):
        raise _refused("A power of ten is not read here; write the figures out.", unit)
    raise _refused("What follows the figures is not a unit that is read here.", unit)


def _refused(reason: str, unit: Unit | None) -> LengthError:
    """Say why, and what would do."""
    would_do = {
        Unit.MM: "648, 64.8 cm, 25.5 in or 25 1/2 in",
        Unit.INCH: "25.5, 25 1/2, 648 mm or 64.8 cm",
        None: "648 mm, 64.8 cm, 25.5 in or 25 1/2 in",
    }
    return LengthError(f"{reason} Write it like {would_do[unit]}.")


def exact(value: Number) -> Decimal:
    """Take a number as the decimal that is written for it: 1.425 is 1.425, whatever its binary neighbour.

    Raises
    ------
    LengthError
        If it is not finite.
    """
    number = value if isinstance(value, Decimal) else Decimal(repr(float(value)))
    if not number.is_finite():
        raise LengthError("This length is not a finite number.")
    return number


def rounded(value: Number, places: int, rounding: str = ROUND_HALF_EVEN) -> Decimal:
    """Round the decimal that is written for ``value``; zero comes without a sign."""
    number = exact(value).quantize(Decimal(1).scaleb(-places), rounding)
    return abs(number) if number.is_zero() else number


def in_inches(value: Number) -> Fraction:
    """Turn millimetres into inches, exactly."""
    return Fraction(exact(value)) / MM_PER_INCH


def format_mm(value: Number, places: int | None = None, *, with_unit: bool = True) -> str:
    """Write millimetres: ``3.20 mm``, ``473.9 mm``.

    Parameters
    ----------
    value : Decimal, float or int
        Millimetres.
    places : int, optional
        Decimals. Left out: two below 100 mm, where a caliper reads, one from there on, where a rule does.
    with_unit : bool
        Whether ``mm`` follows.
    """
    if places is None:
        places = 2 if abs(exact(value)) < 100 else 1
    return f"{rounded(value, places):f}" + (" mm" if with_unit else "")


def format_inch(value: Number, places: int = 3, *, with_unit: bool = True) -> str:
    """Write millimetres as decimal inches: ``25.500 in``. Half to even, from the exact quotient."""
    units = round(in_inches(value) * 10**places)
    return f"{Decimal(units).scaleb(-places):f}" + (" in" if with_unit else "")


def format_fraction(value: Number, denominator: int = 64, *, with_unit: bool = True) -> str:
    """Write millimetres as inches to the nearest fraction: ``25 1/2 in``, ``18 53/64 in + 0.003``.

    The fraction is in lowest terms. What it leaves over follows in thousandths of an inch, unless it is
    less than half of one: 1 + 0.000 would say nothing. No line breaks within it: the spaces are U+00A0, the minus
    is U+2212.
    """
    inches = in_inches(value)
    parts = round(inches * denominator)
    whole, left = divmod(abs(parts), denominator)
    fraction = Fraction(left, denominator)
    words = [str(whole)] * (whole > 0 or not fraction) + [str(fraction)] * (fraction > 0) + ["in"] * with_unit
    if over := round((inches - Fraction(parts, denominator)) * 1000):
        words += ["+" if over > 0 else _MINUS, f"{Decimal(abs(over)).scaleb(-3):f}"]
    return (_MINUS if parts < 0 else "") + _SPACE.join(words)


def best_as_fraction(value: Number) -> bool:
    """Tell whether a fraction of an inch says a length best: from an inch on, or where it is a 64th.

    A rule has fractions. What is smaller and no 64th is read on a caliper, or fed by a wheel, in thousandths. Here a
    64th is one to a ten-thousandth of an inch: among 0.280 and 0.248, 1/32 for 0.0315 would be a riddle.
    """
    inches = in_inches(value)
    return abs(inches) >= 1 or abs(inches - Fraction(round(inches * 64), 64)) <= Fraction(1, 10_000)


def format_length(
    value: Number, style: LengthStyle = LengthStyle.MM, places: int | None = None, *, with_unit: bool = True
) -> str:
    """Write millimetres in the shop's style; ``places`` counts decimals of the unit shown."""
    if style is LengthStyle.MM:
        return format_mm(value, places, with_unit=with_unit)
    if style is LengthStyle.INCH_FRACTION and best_as_fraction(value):
        return format_fraction(value, with_unit=with_unit)
    return format_inch(value, 3 if places is None else places, with_unit=with_unit)


def format_figure(value: Number, style: LengthStyle = LengthStyle.MM, *, with_unit: bool = False) -> str:
    """Write a length as a fret table has it: hundredths of a mm however long it is, in inches as always."""
    return format_length(value, style, 2 if style is LengthStyle.MM else None, with_unit=with_unit)


def format_stock(value: Number, style: LengthStyle = LengthStyle.MM) -> str:
    """Write the size of raw stock, without its unit: by the rule, so that a fraction is the nearest and no more."""
    if style is LengthStyle.INCH_FRACTION and best_as_fraction(value):
        value = round(in_inches(value) * 64) * Decimal("0.396875")  # exact: 25.4 / 64
    return format_length(value, style, with_unit=False)


def format_small(
    value: Number, style: LengthStyle = LengthStyle.MM, *, fine: bool = False, with_unit: bool = True
) -> str:
    """Write what a caliper reads, a tolerance, or finer still a step between passes: in decimals in every style.

    Two places of a mm or three of an inch; one more where it is `fine`.
    """
    if style is LengthStyle.MM:
        return format_mm(value, 2 + fine, with_unit=with_unit)
    return format_inch(value, 3 + fine, with_unit=with_unit)


def length_pattern() -> str:
    """Write what `parse_length` reads, unit included, as one regular expression of Python and of ECMA 262 alike.

    It is meant for a JSON Schema. Three refusals are beyond it: a length out of range, one that is less than nothing
    by what it leaves over, and a whole figure before a fraction that is not less than one.
    """
    space, slash, dash, prime, double = (f"[{plain}{_ALIKE[plain]}]" for plain in " /-'\"")
    spelt: dict[Fraction, list[str]] = {}
    for word, mm_per in _MM_PER.items():
        if word.isalpha():
            spelt.setdefault(mm_per, []).append("".join(f"[{letter.upper()}{letter}]" for letter in word))
    inch = "|".join([*spelt.pop(MM_PER_INCH), r"[Ii][Nn]\.", double, prime * 2])
    metric = "|".join(word for words in spelt.values() for word in words)
    unit = f"{metric}|{inch}"
    left_over = rf"{space}+(?:\+|{dash}){space}+0?\.00[1-9]"
    thousands = rf"(?![1-9][0-9]{{0,2}},[0-9]{{3}}{space}*(?:{unit}))"
    decimal = thousands + r"(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)"
    fraction = rf"(?:[0-9]+(?:{space}+|{dash}))?[0-9]+{space}*{slash}{space}*0*[1-9][0-9]*"
    vulgar = rf"(?:[0-9]+{space}*)?[{''.join(_VULGAR)}]"
    return rf"^\s*(?:\+?(?:{decimal}|{fraction})|{vulgar}){space}*(?:{metric}|(?:{inch})(?:{left_over})?)\s*$"
