"""Drawings of a board in templates: each takes what was asked of geometry and what it answered."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

from geometry.jigtest import TestBoard
from geometry.request import Request
from geometry.result import Result
from shop.drawings.cauls import draw_cauls
from shop.drawings.former import draw_arc
from shop.drawings.jig import JigEnd, draw_jig
from shop.drawings.ledger import draw_ledger
from shop.drawings.measure import MEASURES, draw_measure
from shop.drawings.plan import draw_plan
from shop.drawings.saw import draw_saw
from shop.drawings.section import draw_sections
from shop.drawings.taper import draw_taper
from shop.drawings.testboard import draw_test_board
from shop.drawings.thicknesser import draw_thicknesser
from shop.models import Jig

register = template.Library()


@register.simple_block_tag
def wide_drawing(content: SafeString, label: str) -> SafeString:
    """Hold a drawing that fills the page; on a phone it is moved sideways, by finger or by the arrow keys."""
    return format_html('<div class="drawing wide" tabindex="0" role="region" aria-label="{}">{}</div>', label, content)


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
def jig_drawing(
    context: dict[str, Any], asked: Request, result: Result, on_neck: bool, turned: bool = False, **how: Any
) -> SafeString:
    """Draw what has to stand on the radius jig; `turned`: for a board that lies the other way round."""
    radius, setup = asked.board.radius, result.setup
    nut, heel = (radius.nut, radius.heel) if radius else (None, None)
    names = (setup.head_former, setup.heel_former) if setup and setup.fits else ("", "")
    ends = [JigEnd(nut, names[0]), JigEnd(heel, names[1])]
    return draw_jig(*(ends[::-1] if turned else ends), riser_in=not on_neck, style=context["shop"].style, **how)


@register.simple_tag(takes_context=True)
def setting_drawing(
    context: dict[str, Any], stage: str, asked: Request, result: Result, reach: float | None = None, **how: Any
) -> SafeString:
    """Draw what has to be set at a stage that needs no jig; `reach` is what it is set to, where a run shares it."""
    how = {"style": context["shop"].style, **how}
    match stage:
        case "thicknessing":
            return draw_thicknesser(result.thickness.before_radiusing if reach is None else reach, **how)
        case "slotting":
            return draw_saw(result, asked, depth=reach, **how)
        case "tapering":
            return draw_taper(result, asked, **how)
        case "gluing":
            radius = asked.board.radius
            return draw_cauls(*((radius.nut, radius.heel) if radius else (None, None)), **how)
        case _:
            return SafeString()


@register.simple_tag
def measure_drawing(name: str, **how: Any) -> SafeString:
    """Draw what a field of the kit measures; nothing where it measures nothing."""
    return draw_measure(name, **how) if name in MEASURES else SafeString()


@register.simple_tag(takes_context=True)
def arc_drawing(context: dict[str, Any], radius: Any, **how: Any) -> SafeString:
    """Draw the arc of a former or of a sanding block."""
    return draw_arc(None if radius is None else float(radius), style=context["shop"].style, **how)


@register.simple_tag(takes_context=True)
def standing_drawing(context: dict[str, Any], jig: Jig, **how: Any) -> SafeString:
    """Draw what stands on a jig, with the radius that each former cuts."""
    ends = []
    for former in (jig.head_former, jig.heel_former):
        if former:
            former.jig = jig
        ends.append(JigEnd(former.cuts, former.name) if former else JigEnd(None))
    return draw_jig(*ends, riser_in=jig.riser_in, style=context["shop"].style, **how)


@register.simple_tag(takes_context=True)
def test_board_drawing(context: dict[str, Any], board: TestBoard, **how: Any) -> SafeString:
    """Draw where a test board is read."""
    return draw_test_board(board, style=context["shop"].style, **how)
