"""The sheets of labels in the kit."""

from __future__ import annotations

from typing import Any

from django import template

from shop.models import LabelSheet

register = template.Library()


@register.inclusion_tag("shop/_label_sheets.html", takes_context=True)
def label_sheets(context: dict[str, Any]) -> dict[str, Any]:
    """List the sheets of labels."""
    return {"shop": context["shop"], "sheets": LabelSheet.objects.all()}
