"""What stands beside the boxes for readings."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils import timezone

from boards.lately import lately
from boards.models import Blank
from boards.readings import ReadingsForm
from shop.stages import Stage

register = template.Library()


@register.simple_tag(takes_context=True)
def lately_read(context: dict[str, Any], stage: Stage, blank: Blank, form: ReadingsForm) -> list[str]:
    """Say what the boards before this one on the same setup give cause to look at."""
    return lately(stage.key, blank, form.targets, context["shop"], timezone.now())
