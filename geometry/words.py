"""How a length is said inside a sentence: as short as it can be, and never on the wrong side of a limit."""

from __future__ import annotations

from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from geometry.units import LengthStyle, Number, best_as_fraction, format_fraction, in_inches, rounded


def say(
    value: Number, style: LengthStyle = LengthStyle.MM, rounding: str = ROUND_HALF_EVEN, *, unit: bool = True
) -> str:
    """Say a length: ``1.2 mm``, ``478.2 mm``, ``0.047 in``, ``3/64 in``, without zeros that say nothing.

    Parameters
    ----------
    value : Decimal, float or int
        Millimetres.
    style : LengthStyle
        The shop's.
    rounding : str
        One of `decimal`'s. Down for what there is and up for what there must be, so that what is said never
        passes a limit that the figure itself does not (ASTM E29 rounds limits inward for the same reason).
    unit : bool
        Whether the unit is said.
    """
    value = rounded(value, 9)  # 0.45 that floating point left as 0.4500000000000002 is not rounded up
    inches = in_inches(value)
    if style is LengthStyle.INCH_FRACTION:
        if rounding == ROUND_HALF_EVEN and best_as_fraction(value):
            return format_fraction(value, with_unit=unit)
        sixty_fourths = inches * 64
        if sixty_fourths.denominator == 1 or abs(inches) >= 1:
            whole = -(-sixty_fourths // 1) if rounding == ROUND_CEILING else sixty_fourths // 1
            return format_fraction(_mm(Fraction(whole, 64)), with_unit=unit)
    if style is not LengthStyle.MM:
        number = rounded(Decimal(inches.numerator) / Decimal(inches.denominator), 3, rounding)
        return f"{_trimmed(number)} in" if unit else _trimmed(number)
    number = rounded(value, 2 if abs(value) < 100 else 1, rounding)
    return f"{_trimmed(number)} mm" if unit else _trimmed(number)


def at_most(value: Number, style: LengthStyle, *, unit: bool = True) -> str:
    """Say a length rounded down."""
    return say(value, style, ROUND_FLOOR, unit=unit)


def at_least(value: Number, style: LengthStyle, *, unit: bool = True) -> str:
    """Say a length rounded up."""
    return say(value, style, ROUND_CEILING, unit=unit)


def _mm(inches: Fraction) -> Decimal:
    mm = inches * 254 / 10
    return Decimal(mm.numerator) / Decimal(mm.denominator)


def _trimmed(number: Decimal) -> str:
    """Write a decimal without the zeros at its end."""
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
