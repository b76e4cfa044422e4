"""The end view of a board in templates: its curve as measured, against the curve as it should be."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.safestring import SafeString

from shop.drawings.endview import EndView, draw_end_view

register = template.Library()


@register.simple_tag(takes_context=True)
def end_view(context: dict[str, Any], view: EndView) -> SafeString:
    """Draw one station of a board."""
    return draw_end_view(view, style=context["shop"].style)
