"""The life of a build in templates."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils import timezone
from django.utils.safestring import SafeString

from boards.life import Story, story_of
from shop.drawings.lifeline import draw_life
from shop.models import Build

register = template.Library()


@register.simple_tag(takes_context=True)
def life_of(context: dict[str, Any], build: Build) -> Story:
    """Gather what happened to a build and to its boards."""
    return story_of(build, today=timezone.localdate(), style=context["shop"].style)


@register.simple_tag
def life_drawing(story: Story, build: Build) -> SafeString:
    """Draw it."""
    return draw_life(story.life, f"The life of {build.number}", say=story.say)
