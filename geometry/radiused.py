"""What a radiused, still square board must be where it is read."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from geometry.outline import width_at
from geometry.request import EndRadii, Request
from geometry.result import Result
from geometry.surface import radius_at, sagitta_within

CLOSE: Final = 1e-9  # mm
ENDS: Final = ("head", "heel")


@dataclass(frozen=True, slots=True)
class RadiusedBoard:
    """What a radiused, still square board must be where it is read, mm.

    Attributes
    ----------
    blank_head, length, width : float
        Distance of the blank's head end from the nut face (0 or less), and the blank's length and width.
    head, heel, nut_width, heel_width : float
        Of the finished board: distance of its two ends from the nut face, and its widths.
    radius : EndRadii or None
        At the nut face and at the heel; None is flat.
    after, finished : float
        Thickness on the centreline that radiusing must leave, and that of the finished board.
    corner_tolerance, thickness_tolerance : float
        How far corners and centreline may be off.
    scallop, reads_to : float
        The highest ridge that the passes may leave, and the standard deviation of one reading.
    """

    blank_head: float
    length: float
    width: float
    head: float
    heel: float
    nut_width: float
    heel_width: float
    radius: EndRadii | None
    after: float
    finished: float
    corner_tolerance: float
    thickness_tolerance: float
    scallop: float = 0.05
    reads_to: float = 0.02

    @classmethod
    def of(
        cls, request: Request, result: Result, corner_tolerance: float, thickness_tolerance: float, **more: float
    ) -> RadiusedBoard:
        """Take it from a request and the figures worked out for it."""
        board, size = request.board, request.blank or result.blank_needed
        head = result.board.length - result.board.overall
        return cls(
            blank_head=head - request.allowances.end,
            length=size.length,
            width=size.width,
            head=head,
            heel=result.board.length,
            nut_width=board.nut_width,
            heel_width=board.heel_width,
            radius=board.radius,
            after=result.thickness.after_radiusing,
            finished=request.board.thickness,
            corner_tolerance=corner_tolerance,
            thickness_tolerance=thickness_tolerance,
            scallop=request.scallop_max,
            **more,
        )

    def radius_at(self, x: float) -> float:
        """Radius wanted at a distance from the nut face; infinite where flat."""
        if self.radius is None:
            return math.inf
        return float(radius_at(x, self.radius.nut, self.radius.heel, self.heel))

    def width_at(self, x: float) -> float:
        """Width of the finished board at a distance from the nut face."""
        return float(width_at(x, self.nut_width, self.heel_width, self.heel))

    @property
    def corner_places(self) -> tuple[float, float]:
        """Where the corners lie: the two ends of the blank, from the nut face."""
        return self.blank_head, self.blank_head + self.length


@dataclass(frozen=True, slots=True)
class Station:
    """Points that were measured across a board: its name, how far from the nut face, and pairs of place and height."""

    name: str
    at: float
    points: tuple[tuple[float, float], ...]


def drop_at_edge(radius: float, chord: float) -> float:
    """Sagitta of a chord, or of as much of it as the circle spans, mm."""
    return float(sagitta_within(np.float64(radius), np.float64(min(chord, 2 * radius))))
