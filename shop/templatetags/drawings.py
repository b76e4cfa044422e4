"""Drawings of a board in templates: each takes what was asked of geometry and what it answered."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.safestring import SafeString

from geometry.request import Request
from geometry.result import Result
from shop.drawings.jig import JigEnd, draw_jig
from shop.drawings.ledger import draw_ledger
from shop.drawings.plan import draw_plan
from shop.drawings.section import draw_sections

register = template.Library()


@register.simple_tag(takes_context=True)
def plan_drawing(context: dict[str, Any], asked: Request, result: Result, **how: Any) -> SafeString:
    """Draw the board from above."""
    return draw_plan(result, asked, style=context["shop"].style, **how)


@register.simple_tag(takes_context=True)
def section_drawing(context: dict[str, Any], asked: Request, result: Result, **how: Any) -> SafeString:
    """Draw the board cut across at nut, twelfth fret and heel."""
    return draw_sections(result, asked, style=context["shop"].style, **{"abreast": True, **how})


@register.simple_tag(takes_context=True)
def ledger_drawing(context: dict[str, Any], asked: Request, result: Result, **how: Any) -> SafeString:
    """Draw the thickness from intake to the finished board."""
    return draw_ledger(result, asked, style=context["shop"].style, **how)


@register.simple_tag(takes_context=True)
def jig_drawing(context: dict[str, Any], asked: Request, on_neck: bool, **how: Any) -> SafeString:
    """Draw what has to stand on the radius jig."""
    radius = asked.board.radius
    head, heel = (JigEnd(radius.nut), JigEnd(radius.heel)) if radius else (JigEnd(None), JigEnd(None))
    return draw_jig(head, heel, riser_in=not on_neck, style=context["shop"].style, **how)
