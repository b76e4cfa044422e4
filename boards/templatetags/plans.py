"""The order of the day, where a page has only the bench."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils import timezone

from boards.models import Bench
from boards.plans import Day, day_at

register = template.Library()


@register.simple_tag(takes_context=True)
def day_of(context: dict[str, Any], bench: Bench) -> Day:
    """Work out the day at a bench as it is by now."""
    return day_at(bench.stage, context["shop"], timezone.localdate())
