"""The name of a figure as a link to how it was worked out."""

from __future__ import annotations

from django import template
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString

from boards.models import Blank
from shop.models import Build

register = template.Library()


@register.simple_tag
def how(figure: str, board: Blank | Build, words: str) -> SafeString:
    """Write the name of a figure so that it can be asked: ``{% how "before" blank "Before radiusing" %}``."""
    name = "boards:how-blank-figure" if isinstance(board, Blank) else "boards:how-build-figure"
    return format_html('<a class="how" href="{}">{}</a>', reverse(name, args=[board.number, figure]), words)
