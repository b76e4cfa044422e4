"""The shop's air in templates, and what its seasons do to a board."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import template
from django.utils.safestring import SafeString

from shop.drawings.air import AirOfDay, draw_air

register = template.Library()


@register.simple_tag(takes_context=True)
def air_drawing(
    context: dict[str, Any], days: Sequence[AirOfDay], band: tuple[float, float], today: date
) -> SafeString | str:
    """Draw the air of some days against the shop's band."""
    shop = context["shop"]
    return draw_air(days, humidity=(shop.humidity_low, shop.humidity_high), wood=band, today=today)
