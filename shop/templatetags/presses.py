"""What a form carries that is pressed once."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.safestring import SafeString

from shop.presses import new_tap
from shop.rights import may_press

register = template.Library()


@register.simple_tag
def fresh_tap() -> str:
    """Make a request id: each form of a page has its own, for each can be pressed."""
    return new_tap()


@register.simple_tag(takes_context=True)
def not_theirs(context: dict[str, Any], at: str = "") -> SafeString | str:
    """Mark a form that is not theirs who look at it: its buttons are left out by `people.css`.

    `at` names the address that the form goes to, where that is not the page's own business.
    """
    request = context.get("request")
    if request is None or not hasattr(request, "user") or may_press(request, at):
        return ""
    return SafeString('<span class="not-theirs-to-press" hidden></span>')
