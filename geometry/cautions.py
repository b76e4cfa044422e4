"""What to know before the cut: what, where, how much, and what would help."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from geometry.measured import Rests
from geometry.moisture import HANDBOOK_RANGE, NEAR_ENOUGH, in_seasons, moves
from geometry.request import Request
from geometry.result import Result, Warning
from geometry.shortfalls import shortfalls
from geometry.surface import radius_spanning
from geometry.units import LengthStyle
from geometry.words import at_least, at_most, say

TIGHTEST_USUAL: Final = 184.15  # 7 1/4 in; common practice, no source
FLATTEST_USUAL: Final = 508.0  # 20 in; common practice, no source
CLOSE: Final = 1e-9  # mm: what floating point may leave between two equal lengths


def cautions(request: Request, result: Result, edges: tuple[float, float], style: LengthStyle) -> Iterator[Warning]:
    """Go through what the figures of a board give cause to say.

    Parameters
    ----------
    request, result : Request, Result
        What was asked, and the figures worked out for it.
    edges : tuple of float
        Thickness of the finished board's edge at its head and heel ends, mm.
    style : LengthStyle
        How lengths are written in the messages.
    """
    yield from shortfalls(request, result, style)
    yield from _thin_web(request, result, style)
    yield from _thin_edge(request, result, edges, style)
    yield from _blank(request, result, style)
    yield from _deep_cut(request, result, style)
    yield from _setup(request, result, style)
    yield from _unusual_radius(request, style)
    yield from _climate(request, result)


def _thin_web(request: Request, result: Result, style: LengthStyle) -> Iterator[Warning]:
    """Warn of a slot that leaves less under it than the shop allows.

    Sawing after radiusing leaves the middle thicker, but the edge is where it fails, so that is no remedy.
    """
    web, limit = result.slots.web_least, request.web_min
    if web >= limit - CLOSE and web > 0:
        return
    slot = result.board.frets[result.rests.weakest if result.rests else result.slots.deepest_fret]
    if web > 0:
        what = (
            f"Slot {slot.fret} leaves {at_most(web, style)} under it at the edge; "
            f"{say(limit, style, unit=False)} is the least you set."
        )
    else:
        what = f"Slot {slot.fret} goes through the board at the edge, by {at_least(-web, style)}."
    if result.rests and result.rests.web:
        yield Warning("thin-web", "stop", f"{what} {_as_it_is(result.rests, 'web', style)}", web, limit)
        return
    remedies = [f"A board {at_least(limit - web, style)} thicker would do"]
    if request.wire.tang > limit - web:
        remedies.append("a shallower tang")
    room = request.board.thickness - slot.edge_thickness - (limit - web)
    if room > CLOSE:
        chord = 2 * max(-slot.bass[1], slot.treble[1])
        remedies.append(f"a radius of {at_least(float(radius_spanning(chord, room)), style)} there")
    yield Warning("thin-web", "stop", f"{what} {_either(remedies)}.", web, limit)


def _thin_edge(request: Request, result: Result, edges: tuple[float, float], style: LengthStyle) -> Iterator[Warning]:
    """Warn of an edge thin where there is no slot, and of a cut that runs out through the glue face in the waste.

    The limit at the edge is the least web: wood that the shop will not have thinner under a slot it will not have
    thinner anywhere. The ends are the thinnest places, because the sagitta is convex in radius and width together
    and both are linear along the board. The corners of the square blank need not be strong, but they must be
    there: below nothing the cutter is in the bed.
    """
    thin, end = min(zip(edges, ("nut", "heel"), strict=True))
    corner, corner_end = min(zip((result.corners.head, result.corners.heel), ("head", "heel"), strict=True))
    limit = request.web_min
    if thin < limit - CLOSE or thin <= 0:
        left = f"is {at_most(thin, style)} thick" if thin > 0 else "has nothing left of it"
        helps = f"A board {at_least(limit - thin, style)} thicker would do, or a larger radius."
        if result.rests and result.rests.finished:
            helps = _as_it_is(result.rests, "finished", style)
        message = (
            f"The edge at the {end} end {left}; {say(limit, style, unit=False)} is the least you set for a web. {helps}"
        )
        yield Warning("thin-edge", "stop", message, thin, limit)
    elif corner <= 0:
        message = (
            f"The cut runs out through the glue face at the {corner_end} corners of the blank, "
            f"{at_least(-corner, style)} deep into what it lies on. A narrower blank would do."
        )
        yield Warning("thin-edge", "stop", message, corner, 0.0)


def _blank(request: Request, result: Result, style: LengthStyle) -> Iterator[Warning]:
    """Warn of a blank that the board does not fit in."""
    if request.blank is None or result.blank_margin is None:
        return
    allow = request.allowances
    for code, name, direction, spare, remedy in (
        ("blank-short", "length", "short", allow.proving + 2 * allow.end, "A shorter proving strip or run-out"),
        ("blank-narrow", "width", "narrow", 2 * allow.edge, "Less waste at the edges"),
        ("blank-thin", "thickness", "thin", request.board.thickness, "A thinner board"),
    ):
        margin = getattr(result.blank_margin, name)
        if margin >= -CLOSE or (name == "thickness" and result.rests and result.rests.before):
            continue  # a board that was thicknessed is judged by what was read then
        needed, measured = getattr(result.blank_needed, name), getattr(request.blank, name)
        message = (
            f"The blank is {at_least(-margin, style)} too {direction}: it measures {at_most(measured, style)}, "
            f"and the board needs {at_least(needed, style)} with its allowances."
        )
        yield Warning(code, "stop", message + (f" {remedy} would do." if spare > -margin else ""), measured, needed)


def _deep_cut(request: Request, result: Result, style: LengthStyle) -> Iterator[Warning]:
    """Warn of a pass that bites deeper than the cutter may in one go."""
    if request.cutter is None or result.passes is None or result.passes.depth_levels == 1:
        return
    deepest, limit = max(p.depth for p in result.passes.list), request.cutter.max_depth
    message = (
        f"The outermost pass is {at_least(deepest, style)} deep; {say(limit, style, unit=False)} is the most for this "
        f"cutter. Go over the board in {result.passes.depth_levels} levels."
    )
    if result.rests and result.rests.bite:
        message = f"{message} {result.rests.words('bite', style)}"
    yield Warning("deep-cut", "caution", message, deepest, limit)


def _setup(request: Request, result: Result, style: LengthStyle) -> Iterator[Warning]:
    """Warn of a bed too short for the blank, of a rack without a pair that fits, and of an apex that is not level."""
    jig, setup = request.jig, result.setup
    if jig is None:
        return
    length = request.blank.length if request.blank is not None else result.blank_needed.length
    bed, tolerance = jig.span - 2 * jig.end_clearance, jig.edge_tolerance
    if length > bed + CLOSE:
        message = (
            f"The blank is {at_least(length, style)} long, and the bed takes {at_most(bed, style)} between its end "
            f"clearances. A blank {at_least(length - bed, style)} shorter would do, or a longer bed."
        )
        yield Warning("jig-too-short", "stop", message, length, bed)
    elif setup is None:
        message = (
            "No two formers in the rack can cut this board on this jig. Make the pair that is given, and measure "
            "again any former that should do."
            if request.formers
            else "There are no formers in the rack. Make the pair that is given."
        )
        yield Warning("no-former-fits", "stop", message, None, tolerance)
    elif not setup.fits:
        worst = max(setup.edge_error, abs(setup.apex_drift) / 2)
        message = (
            f"No two formers in the rack cut this board within {say(tolerance, style)}. The nearest, "
            f"{setup.head_former} at the head and {setup.heel_former} at the heel, are "
            f"{at_least(worst, style)} off at the worst. Make the pair that is given."
        )
        yield Warning("no-former-fits", "stop", message, worst, tolerance)
    if setup is not None and abs(setup.apex_drift) > tolerance + CLOSE:
        lower = "heel" if setup.apex_drift < 0 else "nut"
        message = (
            f"With {setup.head_former} at the head and {setup.heel_former} at the heel the board comes out "
            f"{at_least(abs(setup.apex_drift), style)} thinner at the {lower}. Formers whose rail planes are level "
            "would not do this."
        )
        yield Warning("apex-drift", "caution", message, abs(setup.apex_drift), tolerance)


def _unusual_radius(request: Request, style: LengthStyle) -> Iterator[Warning]:
    """Warn of a radius that may well be a slip of the pen."""
    radius = request.board.radius
    if radius is None:
        return
    ends = {"": radius.nut} if radius.nut == radius.heel else {" at the nut": radius.nut, " at the heel": radius.heel}
    for where, value in ends.items():
        if value < TIGHTEST_USUAL - CLOSE:
            odd, limit = "tighter", TIGHTEST_USUAL
        elif value > FLATTEST_USUAL + CLOSE:
            odd, limit = "flatter", FLATTEST_USUAL
        else:
            continue
        message = (
            f"A radius of {say(value, style)}{where} is {odd} than the usual "
            f"{say(limit, style)}. Check that it is meant."
        )
        yield Warning("unusual-radius", "caution", message, value, limit)


def _climate(request: Request, result: Result) -> Iterator[Warning]:
    """Warn of wood that has not come to the shop's moisture, and of seasons that the coefficients do not reach."""
    climate, figures = request.climate, result.climate
    if climate is None or figures is None or not moves(climate):
        return
    if not figures.ready:
        way = "gives off" if climate.blank_mc > figures.emc else "takes up"
        message = (
            f"The blank holds {climate.blank_mc:.1f} % moisture, and the shop's air leads to {figures.emc:.1f} %. "
            f"Let it rest until it is within {NEAR_ENOUGH:g} %: it {way} moisture, and moves as it does."
        )
        yield Warning("not-settled", "caution", message, abs(climate.blank_mc - figures.emc), NEAR_ENOUGH)
    least, most = HANDBOOK_RANGE
    for season, name in zip(in_seasons(climate), ("driest", "dampest"), strict=True):
        if least <= season <= most:
            continue
        message = (
            f"In the {name} season the wood comes to {season:.1f} % moisture. The handbook's figures hold from "
            f"{least:g} to {most:g} %, so take the seasonal change as a rough one."
        )
        yield Warning("outside-handbook-range", "caution", message, season, least if season < least else most)


def _as_it_is(rests: Rests, figure: str, style: LengthStyle) -> str:
    """Say what would help a board that is cut already, and what that rests on: no plan makes it thicker."""
    sawn = figure == "web" and (rests.measured.slot_depth is not None or rests.measured.floor is not None)
    helps = "Another blank would do." if sawn else "Another blank would do, or a shallower tang."
    if figure == "finished":
        helps = "Another blank would do, or a larger radius."
    return f"{helps} {rests.words(figure, style)}"


def _either(remedies: list[str]) -> str:
    """Join remedies: one, or another, or a third."""
    return ", or ".join(remedies)
