"""The rail jig: what two formers and a frame of round rails cut, and the formers that a board asks for.

u runs along the bed from the former at the board's head end (0) to the one at its heel end (`Jig.span`); heights
count from the bed. The plane of the rail axes stands `rail_height` from a former's centre; the cutter hangs below
that plane by a depth that is set so that the apex comes out right at the middle of the board.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from geometry.request import Jig


@dataclass(frozen=True, slots=True)
class Work:
    """Boards as a jig sees them, mm, arrays of shape (boards,).

    Attributes
    ----------
    length : ndarray
        Nut face to heel.
    blank_head, blank_heel : ndarray
        Distance from the nut face to the ends of the blank; the first is 0 or less.
    nut_width, heel_width, nut_radius, heel_radius : ndarray
        What the finished board must be; infinite radii for a flat one.
    thickness : ndarray
        On the centreline after radiusing.
    before : ndarray
        On the centreline before radiusing.
    half_angle : ndarray
        From the apex to the edge of the fan of passes, rad.
    blank_width : ndarray
        Width of the blank.
    """

    length: np.ndarray
    blank_head: np.ndarray
    blank_heel: np.ndarray
    nut_width: np.ndarray
    heel_width: np.ndarray
    nut_radius: np.ndarray
    heel_radius: np.ndarray
    thickness: np.ndarray
    before: np.ndarray
    half_angle: np.ndarray
    blank_width: np.ndarray

    def apex(self, jig: Jig) -> np.ndarray:
        """Height above the bed at which the apex must come out, mm."""
        return jig.riser + jig.packing + self.thickness


def rail_height(jig: Jig, radius: ArrayLike) -> np.ndarray:
    """Distance from a former's centre to the plane of the rail axes, ``sqrt((R + d/2)² - (g/2)²)``, mm.

    Parameters
    ----------
    jig : Jig
        With rails of no diameter and no distance the frame rests on the arc itself.
    radius : array_like
        Radius of the former's arc, mm; more than the rails' reach, ``(g - d)/2``.
    """
    return np.sqrt(np.square(np.asarray(radius, float) + jig.rail_diameter / 2) - (jig.rail_spacing / 2) ** 2)


def rests(jig: Jig, radius: float) -> bool:
    """Whether both rails can lie on an arc of this radius: the rails must stand closer than it is round."""
    return radius + jig.rail_diameter / 2 > jig.rail_spacing / 2


@dataclass(frozen=True, slots=True)
class ToMake:
    """The exact pair of formers for each board, mm, arrays of shape (boards, 2): head end, heel end.

    Attributes
    ----------
    rail_radius : ndarray
        Distance from the former's centre to the rail plane; above 0 where a former can be made at all.
    radius, apex, half_width : ndarray
        Arc (infinite: a straight edge), height of its apex above the bed, and how far to each side it must reach.
    lowest : ndarray
        Height above the bed of the lower end of that reach.
    """

    rail_radius: np.ndarray
    radius: np.ndarray
    apex: np.ndarray
    half_width: np.ndarray
    lowest: np.ndarray


def to_make(jig: Jig, work: Work) -> ToMake:
    """Work out the formers that cut each board exactly, with its nut at ``(span - B)/2`` and a level apex.

    Notes
    -----
    With the rail plane at the jig's own height everywhere, the cutter hangs ``k`` below it and the arcs follow:
    ``R_f = sqrt((R + k)² + (g/2)²) - d/2`` and ``H_f = Z + R_f - (R + k)``. The second is written so that it loses
    no digits where R is large, and holds for a flat board, whose formers are straight edges.
    """
    half_rails, half_rail = jig.rail_spacing / 2, jig.rail_diameter / 2
    nut_at = (jig.span - work.length) / 2
    below = jig.rail_plane - work.apex(jig)
    flat = np.isinf(work.nut_radius)
    nut, heel = (np.where(flat, 0.0, radius) for radius in (work.nut_radius, work.heel_radius))
    slope = (heel - nut) / work.length
    wanted = np.stack((nut - slope * nut_at, nut + slope * (jig.span - nut_at)), axis=1)
    rail_radius = np.where(flat[:, None], np.inf, wanted + below[:, None])
    held = np.maximum(rail_radius, 1e-9)  # where there is none, words take its place
    reach = np.hypot(held, half_rails)
    radius = reach - half_rail
    lean = np.arctan2(half_rails, held)
    apex = jig.rail_plane + half_rails**2 / (reach + held) - half_rail
    angle = np.minimum(work.half_angle[:, None] + lean, np.pi / 2)
    bounded = np.where(flat[:, None], 0.0, radius)
    straight = work.blank_width[:, None] / 2 + half_rails
    half_width = np.where(flat[:, None], straight, bounded * np.sin(angle)) + jig.former_margin
    drop = np.where(flat[:, None], 0.0, bounded * (1 - np.cos(angle)))
    return ToMake(rail_radius, radius, apex, half_width, apex - drop)


@dataclass(frozen=True, slots=True)
class Cut:
    """What pairs of formers cut, mm: arrays that broadcast over boards and pairs.

    Attributes
    ----------
    nut_radius, heel_radius : ndarray
        Radius cut at the two ends of the board.
    drift : ndarray
        Height of the apex at the heel over that at the nut.
    below : ndarray
        How far the cutter hangs below the rail plane at the middle of the board.
    """

    nut_radius: np.ndarray
    heel_radius: np.ndarray
    drift: np.ndarray
    below: np.ndarray


@dataclass(frozen=True, slots=True)
class Pairs:
    """Pairs of formers on a jig, one at the board's head end and one at its heel end, arrays of shape (pairs,).

    Between the formers the rail plane and the radius cut are both linear along the jig. A board that lies nearer
    the heel by 1 mm is cut with a radius larger by ``shift``, and from nut to heel the radius grows by ``growth``
    and the apex by ``tilt`` for each mm.

    One thing is left out. On a cone the frame swings sideways as it goes round, so that the rails stand a little
    farther apart across a former; the curve comes out lower at the edge by less than 0.01 mm on usual cones
    (10 to 16 in, rails 120 mm apart), which is why a gauge reads about 1 mm less of a radius of 254 mm there.
    """

    rail: np.ndarray
    sink: np.ndarray
    tilt: np.ndarray
    shift: np.ndarray

    @classmethod
    def of(cls, jig: Jig, head: tuple[ArrayLike, ArrayLike], heel: tuple[ArrayLike, ArrayLike]) -> Pairs:
        """Pair formers, each given as radius and apex."""
        (r0, h0), (r1, h1) = ((np.asarray(v, float) for v in end) for end in (head, heel))
        rail = h0 - r0 + rail_height(jig, r0)
        tilt = (h1 - r1 + rail_height(jig, r1) - rail) / jig.span
        return cls(rail, r0 - h0, tilt, ((r1 - h1) - (r0 - h0)) / jig.span)

    @property
    def growth(self) -> np.ndarray:
        """How much the radius cut grows with each mm towards the heel."""
        return self.shift + self.tilt

    def cut(self, nut_at: np.ndarray, length: np.ndarray, apex: np.ndarray) -> Cut:
        """Work out what is cut with the board's nut at ``nut_at`` and the apex right at the board's middle."""
        nut_radius = self.sink + apex - self.tilt * length / 2 + self.shift * nut_at
        return Cut(
            nut_radius=nut_radius,
            heel_radius=nut_radius + self.growth * length,
            drift=self.tilt * length,
            below=self.rail + self.tilt * (nut_at + length / 2) - apex,
        )
