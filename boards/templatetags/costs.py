"""Sums of money in templates, and what a build cost so far."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template
from django.template.defaultfilters import floatformat
from django.utils import timezone

from boards.costs import costs_of_build
from shop.models import Build, Week

register = template.Library()


@register.simple_tag(takes_context=True)
def money(context: dict[str, Any], value: Decimal | None) -> str:
    """Write a sum with the shop's own word for its money; one that is not known is said so."""
    if value is None:
        return "not known"
    return f"{floatformat(value, 2)} {context.get('money', '')}".strip()


@register.filter
def minutes(value: float | None) -> str:
    """Write minutes: from an hour on in hours and minutes."""
    if value is None:
        return ""
    whole = round(value)
    return f"{whole // 60} h {whole % 60:02} min" if whole >= 60 else f"{whole} min"


@register.inclusion_tag("boards/_build_cost.html", takes_context=True)
def cost_of_build(context: dict[str, Any], build: Build) -> dict[str, Any]:
    """Say what a build cost so far, in a few lines."""
    costs = costs_of_build(build, context["shop"], today=timezone.localdate())
    return {"build": build, "costs": costs, "money": Week.current().money}
