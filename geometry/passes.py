"""The fan of passes that cuts the curve: how many, at which angles, how deep."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

MOST_PASSES: Final = 999


@dataclass(frozen=True, slots=True)
class Fan:
    """Passes over a stack of boards.

    Each pass leaves a flat facet, as wide as the cutter at most. The count is odd, so that one pass lies on the
    apex and proves the depth. A flat board is cut in parallel strokes: every angle is 0, and ``step`` and
    ``half_angle`` with them.

    Attributes
    ----------
    count : ndarray, shape (boards,)
        Number of passes, as a whole float: a fan too fine to be meant may be beyond any integer.
    step, half_angle : ndarray, shape (boards,)
        Angle from pass to pass, and from the apex to the edge of the fan, rad.
    stride : ndarray, shape (boards,)
        Distance between the strokes of a flat board, mm; 0 on a curved one.
    scallop : ndarray, shape (boards,)
        Height of the ridge where two facets meet, where the radius is largest, mm.
    radius : ndarray, shape (boards,)
        The smallest radius on the blank, mm; 0 for a flat board.
    """

    count: np.ndarray
    step: np.ndarray
    half_angle: np.ndarray
    stride: np.ndarray
    scallop: np.ndarray
    radius: np.ndarray

    def numbers(self) -> np.ndarray:
        """Count the passes from the apex, shape (boards, most passes); past a board's last the count goes on."""
        return np.arange(self.count.max()) - (self.count[:, None] - 1) / 2

    def depths(self, numbers: np.ndarray, skim: np.ndarray) -> np.ndarray:
        """Depth of cut of each pass at the outer side of its facet, mm, so on the safe side."""
        reach = np.minimum((np.abs(numbers) + 0.5) * self.step[:, None], self.half_angle[:, None])
        return skim[:, None] + 2 * self.radius[:, None] * np.square(np.sin(reach / 2))

    def deepest(self, skim: np.ndarray) -> np.ndarray:
        """Depth of cut of the outermost pass, mm."""
        return self.depths((self.count[:, None] - 1) / 2, skim)[:, 0]


def widest_step(radius: np.ndarray, cutter: np.ndarray, scallop: np.ndarray) -> np.ndarray:
    """Widest angle between two passes: the facets must meet, and the ridge must not stand too high.

    Parameters
    ----------
    radius, cutter, scallop : ndarray
        Radius, diameter of the cutter and the highest scallop allowed, mm.

    Returns
    -------
    ndarray
        Radians: the smaller of ``2 atan(D/2R)`` and ``2 acos(R/(R + h))``.
    """
    return 2 * np.arctan2(np.minimum(cutter / 2, np.sqrt(scallop * (2 * radius + scallop))), radius)


def lay_fan(ends: tuple[np.ndarray, np.ndarray], width: np.ndarray, cutter: np.ndarray, scallop: np.ndarray) -> Fan:
    """Lay the fewest passes that will do over square blanks.

    The fan reaches the edges of the blank where the radius is least; the rules for the step hold where it is
    largest.

    Parameters
    ----------
    ends : pair of ndarray, shape (boards,)
        Radius at the two ends of the blank, mm; infinite where flat. More than half of `width`.
    width, cutter, scallop : ndarray, shape (boards,)
        Width of the blank, diameter of the cutter, and the highest scallop allowed, mm.
    """
    least, largest = np.minimum(*ends), np.maximum(*ends)
    flat = np.isinf(least)
    half_angle = np.arcsin(width / 2 / least)
    bounded = np.where(flat, 1.0, largest)
    step = widest_step(bounded, cutter, scallop)
    wanted = np.where(flat, width / cutter, 2 * half_angle / step)
    count = np.ceil(wanted * (1 - 1e-12))  # a fan that just fits needs no more for a last digit
    count += 1 - count % 2
    step = 2 * half_angle / count
    return Fan(
        count=count,
        step=step,
        half_angle=half_angle,
        stride=np.where(flat, width / count, 0.0),
        scallop=np.where(flat, 0.0, bounded * 2 * np.square(np.sin(step / 4)) / np.cos(step / 2)),
        radius=np.where(flat, 0.0, least),
    )


def cutting_minutes(count: ArrayLike, levels: ArrayLike, stroke: ArrayLike, feed: ArrayLike) -> np.ndarray:
    """Time that the cutter is in the wood: every pass once at each level of depth.

    Parameters
    ----------
    count, levels : array_like
        Passes of the fan, and in how many depths it is gone round.
    stroke : array_like
        Length of one pass, mm: the length of the blank.
    feed : array_like
        mm in a minute, above 0. Parameters broadcast.

    Returns
    -------
    ndarray
        Minutes.
    """
    return np.asarray(count, float) * levels * stroke / feed


def depth_levels(deepest: np.ndarray, max_depth: np.ndarray) -> np.ndarray:
    """In how many levels the fan must be gone round so that no pass bites deeper than the cutter may."""
    return np.maximum(1.0, np.ceil(deepest / max_depth * (1 - 1e-12)))
