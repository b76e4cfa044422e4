"""What printed sheets, and the pages that lead to them, need in templates."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template

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
