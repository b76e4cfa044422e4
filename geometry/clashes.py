"""Measures of a jig that cannot all be right, each with the measure that is wrong and how far."""

from __future__ import annotations

from collections.abc import Iterator

from geometry.errors import Problem
from geometry.jig import rests
from geometry.request import Jig
from geometry.units import LengthStyle
from geometry.words import at_least, at_most, say


def jig_at_odds(jig: Jig, style: LengthStyle) -> Iterator[Problem]:
    """Find measures of a jig that are at odds, by the names of its figures; NaN for what is not known yet."""
    half = jig.span / 2
    if jig.end_clearance >= half:
        yield Problem(
            "end_clearance",
            f"{say(jig.end_clearance, style)} at each end of a span of {say(jig.span, style)} leaves no bed between "
            f"them. It must be less than {at_most(half, style)}.",
        )
    if 0 < jig.rail_spacing < jig.rail_diameter:
        yield Problem(
            "rail_spacing",
            f"Rails {say(jig.rail_diameter, style)} thick and {say(jig.rail_spacing, style)} apart would run "
            f"{at_least(jig.rail_diameter - jig.rail_spacing, style)} into one another. Measure from the middle of one "
            "to the middle of the other.",
        )
    top = jig.riser + jig.packing
    if top >= jig.rail_plane:
        yield Problem(
            "riser",
            f"The riser with its packing is {say(top, style)} high and the rail plane lies "
            f"{say(jig.rail_plane, style)} above the bed: the board would lie "
            f"{at_least(top - jig.rail_plane, style)} above the rails. Measure both from the bed.",
        )


def rails_beside(jig: Jig, radius: float, style: LengthStyle) -> Problem | None:
    """Tell, at the field ``radius``, when the rails stand too far apart to lie on an arc."""
    if rests(jig, radius):
        return None
    over = jig.rail_spacing - jig.rail_diameter - 2 * radius
    return Problem(
        "radius",
        f"The rails stand {at_least(over, style)} too far apart to lie on an arc of radius {say(radius, style)}: "
        "they would hang beside it.",
    )
