"""What is wrong with a jig or a former as it was measured: which measure, and how far.

A figure that is not known yet is NaN: no check that needs it speaks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from geometry.checks import check_figure
from geometry.clashes import jig_at_odds, rails_beside
from geometry.errors import Problem
from geometry.former import radius_cut, rail_plane_on, rails_touch
from geometry.request import Cutter, Former, Jig
from geometry.surface import sagitta_within
from geometry.units import LengthStyle
from geometry.words import at_least, at_most, say

UNKNOWN = math.nan


def _figures(kind: str, part: object, style: LengthStyle) -> Iterator[Problem]:
    for name in part.__dataclass_fields__:
        value = getattr(part, name)
        if isinstance(value, str) or math.isnan(value):
            continue
        if problem := check_figure(f"{kind}.{name}", value, style):
            yield Problem(name, problem.message)


def check_cutter(cutter: Cutter, style: LengthStyle = LengthStyle.MM) -> list[Problem]:
    """Find what is wrong with a cutter, by the names of its figures."""
    return list(_figures("cutter", cutter, style))


def check_jig(jig: Jig, style: LengthStyle = LengthStyle.MM) -> list[Problem]:
    """Find what is wrong with the measures of a jig, by the names of its figures.

    Parameters
    ----------
    jig : Jig
        As measured; NaN for what is not known yet.
    style : LengthStyle
        How lengths are written in the messages.
    """
    return list(_figures("jig", jig, style)) or list(jig_at_odds(jig, style))


def check_former(
    former: Former, jig: Jig, style: LengthStyle = LengthStyle.MM, *, width: float | None = None
) -> list[Problem]:
    """Find what is wrong with the measures of a former on its jig, by the names of its figures.

    Parameters
    ----------
    former : Former
        As measured; NaN for what is not known yet.
    jig : Jig
        The jig that it belongs to.
    style : LengthStyle
        How lengths are written in the messages.
    width : float, optional
        Of its arc, square across, mm.
    """
    problems = list(_figures("formers", former, style))
    return problems or list(_former_at_odds(former, jig, style, width))


def _former_at_odds(former: Former, jig: Jig, style: LengthStyle, width: float | None) -> Iterator[Problem]:
    radius, apex = former.radius, former.apex
    if math.isnan(radius):
        return
    if width is not None and width > 2 * radius:
        yield Problem(
            "width",
            f"An arc of radius {say(radius, style)} is {at_most(2 * radius, style)} wide at most, so it cannot be "
            f"{say(width, style)} wide: {at_least(width - 2 * radius, style)} too much. Measure both again.",
        )
        return
    if math.isnan(jig.rail_spacing + jig.rail_diameter):
        return
    if problem := rails_beside(jig, radius, style):
        yield problem
        return
    touch = rails_touch(jig, radius)
    if width is not None and touch > width:
        yield Problem(
            "width",
            f"The rails touch this former {at_least(touch, style)} apart, and its arc is {say(width, style)} wide: "
            f"{at_least(touch - width, style)} too narrow to carry them.",
        )
    if not math.isnan(apex + jig.rail_plane + jig.riser + jig.packing):
        yield from _heights(former, jig, style, max(touch, width or 0.0))


def _heights(former: Former, jig: Jig, style: LengthStyle, reach: float) -> Iterator[Problem]:
    """Check how high a former stands: one thing wrong at a time, since it is one measure that is wrong."""
    lowest = former.apex - float(sagitta_within(former.radius, reach))
    top = jig.riser + jig.packing
    rails = rail_plane_on(jig, former)
    cut = top + rails - jig.rail_plane  # where the top of the riser would be cut, set by the jig's rail plane
    least = radius_cut(jig, former, 0.0)
    if lowest < 0:
        message = (
            f"At its sides the arc would lie {at_least(-lowest, style)} below the bed. The apex, measured from the "
            f"bed, would have to be {at_least(former.apex - lowest, style)} at least."
        )
    elif rails <= top:
        message = (
            f"On this former the rails lie {say(rails, style)} above the bed, "
            f"{at_least(top - rails, style)} below the top of the riser. Measure the apex again, from the bed."
        )
    elif cut < 0:
        message = (
            f"On this former the rails lie {say(rails, style)} above the bed, where the jig's rail plane is "
            f"{say(jig.rail_plane, style)}: the cut would come out {at_least(-cut, style)} below the bed. Measure the "
            "apex and the rail plane again, both from the bed."
        )
    elif least <= 0:
        message = (
            f"The apex stands {at_least(former.apex - top, style)} above the top of the riser, more than the radius of "
            f"{say(former.radius, style)}: nothing round would be cut. Measure both again."
        )
    else:
        return
    yield Problem("apex", message)
