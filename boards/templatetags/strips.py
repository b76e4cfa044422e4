"""The strip in templates: a blank drawn as it is, and the words that go with it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import template
from django.utils.safestring import SafeString

from boards.figures import Worked, worked
from boards.models import Blank, Condition, LogEntry
from boards.strip import StripState, draw_strip, words_for
from shop.stages import STAGES

register = template.Library()


def strip_state(figures: Worked) -> StripState:
    """Tell the strip what a blank is by now."""
    blank = figures.blank
    return StripState.of(
        blank.length,
        blank.width,
        done=blank.done,
        condition=blank.condition,
        request=figures.request if figures.result else None,
        result=figures.result,
    )


@register.simple_tag
def strip(figures: Worked, size: str = "row") -> SafeString:
    """Draw a blank that is worked out already."""
    return draw_strip(strip_state(figures), size=size, name=f"Blank {figures.blank.number}")


@register.simple_tag(takes_context=True)
def strip_of_blank(context: dict[str, Any], blank: Blank, size: str = "row") -> SafeString:
    """Draw a blank. Before its first cut it is a plain piece of wood, whatever it is to become."""
    return strip(worked(blank, context["shop"], as_planned=True) if blank.done else Worked(blank), size)


@register.simple_tag(takes_context=True)
def figures_of(context: dict[str, Any], blank: Blank) -> Worked:
    """Work out a blank that a page shows beside the one it is about."""
    return worked(blank, context["shop"])


@register.simple_tag
def entries_since(blank: Blank, seen: int) -> list[LogEntry]:
    """List what happened to a blank after a version that somebody saw, the twenty latest."""
    return list(blank.log.with_words().filter(number__gt=seen).order_by("-number")[:20])[::-1]


@register.simple_tag
def strip_of_size(length: Decimal, width: Decimal, size: str = "row") -> SafeString:
    """Draw a blank that is still to come."""
    return draw_strip(StripState.of(length, width), size=size, name="Blank to ask for")


@register.simple_tag
def strip_words(figures: Worked) -> str:
    """Say what the strip shows, and what the blank waits for."""
    blank, said = figures.blank, words_for(strip_state(figures))
    if blank.condition != Condition.ACTIVE:
        return f"{said}."
    if blank.next_stage:
        return f"{said}. Waits for {STAGES[blank.next_stage].label.lower()}."
    return f"{said}. {'All stages are done' if blank.stages else 'Put to nothing yet'}."


@register.simple_tag
def readings_of(entry: LogEntry) -> list[tuple[str, Decimal]]:
    """List what was read when something happened to a blank, by name, in mm."""
    return [(name.replace("_", " "), Decimal(value)) for name, value in entry.readings.items()]


@register.simple_tag
def stages_of(blank: Blank) -> list[dict[str, Any]]:
    """List the stages of a blank's route: which are done, which is next."""
    return [
        {
            "stage": STAGES[key],
            "now": key == blank.next_stage,
            "words": "done" if key in blank.done else ("waits for it" if key == blank.next_stage else "to come"),
        }
        for key in blank.stages
    ]
