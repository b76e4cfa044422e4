"""A blank's moisture in templates."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.safestring import SafeString

from boards.models import Blank
from boards.moisture import known_of
from boards.moisture_chart import draw_moisture

register = template.Library()


@register.inclusion_tag("boards/_moisture_brief.html", takes_context=True)
def moisture_of(context: dict[str, Any], blank: Blank) -> dict[str, Any]:
    """Show where a blank stands, with its chart; its readings, and a form for the next, have a page of their own."""
    shop = context["shop"]
    return {"figures": context.get("figures"), "shop": shop, "blank": blank, **known_of(blank, shop)}


@register.simple_tag(takes_context=True)
def moisture_chart(context: dict[str, Any]) -> SafeString | str:
    """Draw what was read against the shop's band."""
    return draw_moisture(context["points"], context["known"], context["expected"], context["shop"])
