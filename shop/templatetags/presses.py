"""What a form carries that is pressed once."""

from __future__ import annotations

from django import template

from shop.presses import new_tap

register = template.Library()


@register.simple_tag
def fresh_tap() -> str:
    """Make a request id: each form of a page has its own, for each can be pressed."""
    return new_tap()
