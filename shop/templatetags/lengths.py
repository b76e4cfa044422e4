"""Lengths in templates, formatted by `geometry.units` in the shop's style."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template

from geometry.units import LengthStyle, format_figure, format_length, format_small, format_stock
from shop.fields import unit_of

register = template.Library()


@register.simple_tag(takes_context=True)
def length(context: dict[str, Any], value: float | Decimal | None, places: int | None = None) -> str:
    """Write a length with its unit: `{% length blank.width %}`."""
    return "" if value is None else format_length(value, _style(context), places)


@register.simple_tag(takes_context=True)
def figure(context: dict[str, Any], value: float | Decimal | None, places: int | None = None) -> str:
    """Write a length without its unit, where a column or a label names it."""
    return "" if value is None else format_length(value, _style(context), places, with_unit=False)


@register.simple_tag(takes_context=True)
def stock_figure(context: dict[str, Any], value: float | Decimal) -> str:
    """Write a measure of raw stock where many stand one below the other."""
    return format_stock(value, _style(context))


@register.simple_tag(takes_context=True)
def fine_figure(context: dict[str, Any], value: float | Decimal | None) -> str:
    """Write a length without its unit as a fret table has it, fine however long it is."""
    return "" if value is None else format_figure(value, _style(context))


@register.simple_tag(takes_context=True)
def small(context: dict[str, Any], value: float | Decimal, fine: bool = False, with_unit: bool = False) -> str:
    """Write a tolerance, or finer still a step between passes."""
    return format_small(value, _style(context), fine=fine, with_unit=with_unit)


@register.simple_tag(takes_context=True)
def unit(context: dict[str, Any]) -> str:
    """Name the unit in which this shop writes lengths."""
    return unit_of(_style(context)).value


def _style(context: dict[str, Any]) -> LengthStyle:
    return context["shop"].style
