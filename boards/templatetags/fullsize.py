"""Links to drawings at full size."""

from __future__ import annotations

from typing import Any

from django import template
from django.urls import reverse

from shop import pango
from shop.models import Build, Former

register = template.Library()

KINDS = ("pdf", "svg", "dxf")
LARGER = {"A4": "A3", "letter": "11 × 17 in"}
OF_BUILD = {
    "taper-template": "Taper template",
    "slotting-template": "Slotting template",
    "centreline-gauge": "Centreline gauge",
    "head-former": "Former to make, head end",
    "heel-former": "Former to make, heel end",
}


def _about(context: dict[str, Any]) -> dict[str, Any]:
    shop = context["shop"]
    return {"shop": shop, "larger": LARGER[shop.paper], "available": pango.printing_available()}


@register.inclusion_tag("boards/_fullsize_links.html", takes_context=True)
def full_size_of_build(context: dict[str, Any], build: Build) -> dict[str, Any]:
    """Lead to the templates of a build and to the formers to make for it; without a jig, say so instead."""
    shop = context["shop"]
    formers = shop.jig_id is not None and shop.cutter_id is not None
    rows = [
        (words, {kind: reverse("boards:full-size", args=[build.number, what, kind]) for kind in KINDS})
        for what, words in OF_BUILD.items()
        if formers or "former" not in what
    ]
    return {**_about(context), "rows": rows, "formers": formers}


@register.inclusion_tag("boards/_fullsize_former.html", takes_context=True)
def full_size_of_former(context: dict[str, Any], former: Former) -> dict[str, Any]:
    """Lead to the drawing of a former, with the pass marks of a build if one is chosen."""
    links = {kind: reverse("boards:former-full-size", args=[former.pk, kind]) for kind in KINDS}
    builds = Build.objects.open().exclude(radius_nut=None) if context["shop"].cutter_id else []
    return {**_about(context), "links": links, "builds": builds}
