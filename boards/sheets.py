"""What stands on a traveller: its figures and drawings, ready for the print templates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Prefetch, prefetch_related_objects
from django.http import HttpRequest
from django.template.loader import render_to_string
from django.utils import timezone

from boards.figures import Worked
from boards.models import Kind, LogEntry
from boards.printing import Sheet
from boards.qr import address_of, draw_qr, home_of
from boards.routing import last_reason, shared_cautions, steps_of
from boards.strip import draw_strip
from boards.templatetags.strips import strip_state
from boards.times import minutes_by_feed, minutes_from_log
from geometry.request import TwoScales
from geometry.result import Pass, PassFigures, Result
from geometry.units import LengthStyle
from shop.addresses import advice_for_phones
from shop.drawings.ledger import draw_ledger
from shop.drawings.plan import draw_plan
from shop.drawings.section import draw_sections
from shop.drawings.words import UNIT_NAMES
from shop.models import Build, Shop, User
from shop.stages import REMINDER

QR_SIDE = 32.0  # mm
LEVEL = 0.0005  # mm; what would be written as 0.000
PASSES_ABREAST = {LengthStyle.MM: 9, LengthStyle.INCH_DECIMAL: 9, LengthStyle.INCH_FRACTION: 5}
BESIDE = 109.0  # mm; the width of the fret table beside the other figures, and of the plan above it
FRETS_BESIDE = 24  # as many stand beside the other figures, on the back of the routing sheet
FRETS_ON_A_PAGE = 40  # of the shorter paper; a longer table goes on overleaf
# Marks that turn the direction of writing would turn our own words as well; Hebrew or Arabic needs none of them.
_NO_TURNS = dict.fromkeys([0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)])


@dataclass(frozen=True, slots=True)
class Occasion:
    """What all sheets of one print share: whose they are, who printed them and when, and the address of our pages."""

    shop: Shop
    by: User
    at: datetime
    address: str
    learned: float | None = None  # minutes that a board takes at the radius jig, by the shop's log

    @classmethod
    def of(cls, request: HttpRequest) -> Occasion:
        """Take it from a request. A code leads to the address that the shop has set, or else to the one asked at."""
        return cls(request.shop, request.user, timezone.now(), home_of(request), minutes_from_log("radiusing"))

    @property
    def context(self) -> dict[str, Any]:
        """What every print template is given."""
        return {"shop": self.shop, "paper": self.shop.paper.lower(), "by": self.by, "at": self.at}


@dataclass(frozen=True, slots=True)
class Margin:
    """One measure of the blank: what the board needs, what there is, and what is over or short, in mm."""

    name: str
    needed: float
    measured: float
    over: float
    short: float


def traveller_sheets(boards: Sequence[Worked], without: Sequence[Worked], occasion: Occasion) -> list[Sheet]:
    """Make the travellers of boards in their order; those that could not be worked out are named on a last sheet."""
    entries = LogEntry.objects.select_related("by").order_by("number")
    prefetch_related_objects([board.blank for board in boards], Prefetch("log", entries))
    sheets = []
    for board in boards:
        context = traveller_context(board, occasion)
        sheets.append(Sheet(_html("traveller", context), _html("notes", context)))
    if without:
        context = {**occasion.context, "reasons": [why_not(board) for board in without]}
        sheets.append(Sheet(_html("left_out", context)))
    return sheets


def _html(name: str, context: dict[str, Any]) -> str:
    return render_to_string(f"print/{name}.html", context).translate(_NO_TURNS)


def why_not(board: Worked) -> str:
    """Say why there is no traveller for a blank."""
    if board.blank.spec is None:
        return f"{board.blank.number} needs a spec first: put it to a build or to a pattern."
    return f"{board.blank.number} cannot be worked out: {board.trouble}"


def traveller_context(board: Worked, occasion: Occasion) -> dict[str, Any]:
    """Gather what the traveller of one board shows."""
    blank, request, result, style = board.blank, board.request, board.result, occasion.shop.style
    address = address_of(occasion.address, blank.number)
    on_paper = {"style": style, "medium": "paper"}
    radius, fanned = request.board.radius, isinstance(request.board.scale, TwoScales)
    fractions = style is LengthStyle.INCH_FRACTION
    abreast = request.board.frets <= FRETS_BESIDE and not fanned and not fractions
    return {
        **occasion.context,
        **_on_the_jig(result, occasion.shop),
        "board": board,
        "blank": blank,
        "spec": blank.spec,
        "build": blank.spec if isinstance(blank.spec, Build) else None,
        "asked": request,
        "result": result,
        "unit_name": UNIT_NAMES[style],
        "address": address,
        "advice_for_phones": advice_for_phones(address),
        "qr": draw_qr(address, QR_SIDE),
        "strip": draw_strip(strip_state(board), size="sheet", medium="paper", name=f"Blank {blank.number}"),
        "abreast": abreast,
        "long": fractions or request.board.frets > FRETS_ON_A_PAGE,
        "most_beside": 1 if fractions else 2,  # readings that leave room for a caution beside them
        "fanned": fanned,
        "cone": radius is not None and radius.nut != radius.heel,
        "plan": draw_plan(result, request, strings=True, caption=False, width=BESIDE if abreast else None, **on_paper),
        # Fractions take the paper that sections need; what they show stands in the fret table.
        "sections": "" if abreast or fractions else draw_sections(result, request, abreast=True, **on_paper),
        "ledger": draw_ledger(result, request, width=65 if abreast else None, **on_paper),
        "steps": steps_of(board, occasion.shop),
        "minutes": (occasion.learned or minutes_by_feed(board, occasion.shop)) if result.passes else None,
        "shared_cautions": shared_cautions(blank),
        "reminder": REMINDER,
        "stopped_because": last_reason(blank, {Kind.HELD, Kind.SCRAPPED}) if blank.condition != "active" else "",
        "remarks": [text for text in (blank.remarks, blank.spec.remarks) if text],
        "margins": _margins(board),
        "pass_strips": _strips(result.passes, PASSES_ABREAST[style]) if result.passes else [],
    }


def _on_the_jig(result: Result, shop: Shop) -> dict[str, Any]:
    """Where the board lies on the jig, and how level its apex comes out; nothing where no former could take it."""
    if result.setup is None:
        return {}
    drift = abs(result.setup.apex_drift)
    return {"nut_on_rule": shop.jig.on_rule(result.setup.nut_at), "drift": drift, "level": drift < LEVEL}


def _margins(board: Worked) -> list[Margin]:
    needed, size, margin = board.result.blank_needed, board.request.blank, board.result.blank_margin
    return [
        Margin(name, getattr(needed, name), getattr(size, name), max(over, 0.0), max(-over, 0.0))
        for name in ("length", "width", "thickness")
        for over in (getattr(margin, name),)
    ]


def _strips(figures: PassFigures, abreast: int) -> list[list[Pass | None]]:
    """Cut the passes of one side into strips that fit across the paper, of one length; None fills up the last.

    The fan is the same on both sides of the centreline, so that one side says it all.
    """
    passes = [one for one in figures.list if one.number >= 0]
    strips = -(-len(passes) // abreast)
    each = -(-len(passes) // strips)
    filled = [*passes, *[None] * (strips * each - len(passes))]
    return [filled[start : start + each] for start in range(0, len(filled), each)]
