"""The shop's air in templates, and what its seasons do to a board."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import template
from django.utils.safestring import SafeString

from shop.drawings.air import AirOfDay, draw_air
from shop.fretends import seasons
from shop.models import Build

register = template.Library()


@register.simple_tag(takes_context=True)
def air_drawing(
    context: dict[str, Any], days: Sequence[AirOfDay], band: tuple[float, float], today: date
) -> SafeString | str:
    """Draw the air of some days against the shop's band."""
    shop = context["shop"]
    return draw_air(days, humidity=(shop.humidity_low, shop.humidity_high), wood=band, today=today)


@register.inclusion_tag("shop/_fret_ends.html", takes_context=True)
def fret_ends_of(context: dict[str, Any], build: Build) -> dict[str, Any]:
    """Say what the seasons do at the fret ends of a build: for the wood it asks for, or that its blank is of."""
    blanks = [blank for blank in context.get("blanks") or () if blank.condition != "scrapped"]
    species = build.species or (blanks[0].species if blanks else None)
    return {
        "shop": context["shop"],
        "species": species,
        "seasons": seasons(build, species, context["shop"]) if species else None,
        "sawn": [blank.cut for blank in blanks if blank.species_id == species.pk] if species else [],
    }
