"""Shapes that are drawn at full size: a former with its arc and marks, and fret lines carried across a blank."""

from __future__ import annotations

import math
from dataclasses import dataclass

from geometry.jig import rail_height
from geometry.request import Jig
from geometry.result import FretLine, Point
from geometry.surface import sagitta_within


@dataclass(frozen=True, slots=True)
class FormerShape:
    """A former seen along the jig, mm: y across from its centreline, z above the bed.

    Attributes
    ----------
    radius : float
        Of the arc; infinite for a straight edge.
    apex : float
        Height of the arc's highest point.
    half_width, shoulder : float
        Where the arc ends at either side, and how high above the bed that is. From there the sides go straight down.
    missing : float
        How much of the half-width asked for there is no arc for: it is round by then, or has come down to the bed.
    """

    radius: float
    apex: float
    half_width: float
    shoulder: float
    missing: float

    @property
    def centre(self) -> Point:
        """Centre of the arc."""
        return 0.0, self.apex - self.radius

    @property
    def end_angle(self) -> float:
        """Angle at the centre from the apex to either end of the arc, rad; 0 for a straight edge."""
        return math.asin(min(1.0, self.half_width / self.radius))

    def on_arc(self, angle: float, below: float = 0.0) -> Point:
        """Find the point of the arc at an angle from the apex (rad), or one that lies square below it."""
        return (
            (self.radius - below) * math.sin(angle),
            self.apex - 2 * self.radius * math.sin(angle / 2) ** 2 - below * math.cos(angle),
        )

    def rise(self, chord: float) -> float:
        """How much the arc rises over a chord, mm."""
        return float(sagitta_within(self.radius, chord))


def shape_former(radius: float | None, apex: float, half_width: float) -> FormerShape:
    """Give a former its shape.

    Parameters
    ----------
    radius : float or None
        Of the arc, mm; None is a straight edge.
    apex, half_width : float
        Height of the arc's highest point above the bed, and how far it reaches to each side, mm.
    """
    if radius is None or math.isinf(radius):
        return FormerShape(math.inf, apex, half_width, apex, 0.0)
    # The arc is a quarter round at its radius, and lies on the bed where it has come down by its apex.
    most = radius if apex >= radius else math.sqrt(apex * (2 * radius - apex))
    reach = min(half_width, most)
    shoulder = max(0.0, apex - float(sagitta_within(radius, 2 * reach)))
    return FormerShape(radius, apex, reach, shoulder, half_width - reach)


def reach_of_former(jig: Jig, radius: float, half_angle: float) -> float:
    """Half-width that a former needs for a fan of passes, with the jig's margin, mm.

    Parameters
    ----------
    jig : Jig
        The jig.
    radius : float
        Of the former's arc, mm.
    half_angle : float
        From the apex to the edge of the fan, rad.

    Returns
    -------
    float
        ``R_f sin(θ + φ)`` with ``sin φ = (g/2)/(R_f + d/2)``, at most ``R_f``, and the margin.
    """
    lean = math.atan2(jig.rail_spacing / 2, float(rail_height(jig, radius)))
    return radius * math.sin(min(half_angle + lean, math.pi / 2)) + jig.former_margin


def carried_across(fret: FretLine, half_width: float) -> tuple[Point, Point]:
    """Carry a fret line on, or cut it off, at a distance from the centreline: its bass and its treble point, mm."""
    (xb, yb), (xt, yt) = fret.bass, fret.treble
    slant = (xt - xb) / (yt - yb)
    bass, treble = (xb + slant * (side * half_width - yb) for side in (-1, 1))
    return (bass, -half_width), (treble, half_width)
