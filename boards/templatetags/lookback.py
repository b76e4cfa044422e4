"""How far off, in templates."""

from __future__ import annotations

from typing import Any

from django import template

from geometry.units import format_small

register = template.Library()


@register.simple_tag(takes_context=True)
def off(context: dict[str, Any], value: float | None) -> str:
    """Write how far a reading was off, with its sign and without a unit."""
    if value is None:
        return ""
    size = format_small(abs(value), context["shop"].style, with_unit=False)
    sign = "" if not float(size) else "+" if value > 0 else "\u2212"
    return f"{sign}{size}"
