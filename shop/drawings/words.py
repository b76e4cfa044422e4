"""How figures are written on drawings: the shop's style, radii without idle zeros."""

from __future__ import annotations

from geometry.units import LengthStyle, format_length, in_inches

UNIT_NAMES = {LengthStyle.MM: "mm", LengthStyle.INCH_DECIMAL: "inches", LengthStyle.INCH_FRACTION: "inches"}


def written(value: float, style: LengthStyle) -> str:
    """Write a dimension; the unit stands in the drawing's title."""
    return format_length(value, style, with_unit=False)


def written_radius(radius: float | None, style: LengthStyle) -> str:
    """Write a radius with its unit: "10 in", "254 mm"; None is flat."""
    if radius is None:
        return "flat"
    if style is LengthStyle.INCH_FRACTION:
        return format_length(radius, style)
    figure, _, unit = format_length(radius, style).partition(" ")
    return f"{figure.rstrip('0').rstrip('.') if '.' in figure else figure} {unit}"


def spoken_radius(radius: float | None, style: LengthStyle) -> str:
    """Write a radius with the inches that the trade calls it by beside the mm: "254 mm (10 in)"."""
    quarters = 0 if radius is None else in_inches(radius) * 4
    if style is not LengthStyle.MM or not quarters or quarters.denominator != 1:
        return written_radius(radius, style)
    return f"{written_radius(radius, style)} ({written_radius(radius, LengthStyle.INCH_DECIMAL)})"
