"""What printed sheets, and the pages that lead to them, need in templates."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template

from geometry.units import LengthStyle, format_length
from shop import pango
from shop.drawings.words import written_radius

register = template.Library()


@register.inclusion_tag("boards/_print_link.html")
def print_link(address: str, words: str) -> dict[str, Any]:
    """Lead to a sheet; where this machine cannot print, say so instead."""
    return {"address": address, "words": words, "available": pango.printing_available()}


@register.simple_tag(takes_context=True)
def radius(context: dict[str, Any], value: Decimal | float) -> str:
    """Write a radius with its unit, as makers do."""
    return written_radius(float(value), context["shop"].style)


@register.simple_tag(takes_context=True)
def small(context: dict[str, Any], value: float, fine: bool = False) -> str:
    """Write a tolerance, or finer still a step, without its unit: in decimals, as no 64th is near it."""
    style, places = context["shop"].style, 3 if fine else 2
    if style is not LengthStyle.MM:
        style, places = LengthStyle.INCH_DECIMAL, places + 1
    return format_length(value, style, places, with_unit=False)
