"""A curve cut anew: what a board that has one already must still have for another."""

from __future__ import annotations

import numpy as np

from geometry.outline import width_at
from geometry.request import Board, EndRadii
from geometry.surface import radius_at, sagitta_within

PLACES = 101  # along the board, both ends included: radius and width are linear, so their difference bends gently


def sagitta_apart(board: Board, length: float, was: EndRadii | None, was_length: float) -> tuple[float, float]:
    """Tell how much lower the edge of a board lies under the curve that it has than under the one it must get.

    Parameters
    ----------
    board : Board
        What the board must become.
    length : float
        Its length from nut face to heel, mm.
    was : EndRadii or None
        The radii that it has, mm; None is flat.
    was_length : float
        The length from nut face to heel over which those were cut, mm.

    Returns
    -------
    tuple of float
        The least and the most along the edge, mm. Both near 0: the curves are alike. The most above 0: the middle has
        to stand so much higher than the new curve for the edge to have wood enough; it is cut down then.
    """
    x = np.linspace(0, length, PLACES)
    width = width_at(x, board.nut_width, board.heel_width, length)
    apart = _sagitta(was, x, was_length, width) - _sagitta(board.radius, x, length, width)
    return float(apart.min()), float(apart.max())


def _sagitta(ends: EndRadii | None, x: np.ndarray, length: float, width: np.ndarray) -> np.ndarray:
    if ends is None:
        return np.zeros_like(x)
    radius = radius_at(x, ends.nut, ends.heel, length)
    # A curve that was cut for a narrower board may not span this one: past its half circle there is no board at all.
    return sagitta_within(radius, np.minimum(width, 2 * radius))


def lost_in_cutting_again(radius: float, offset: float, wanted: float, width: float) -> float:
    """Tell how much lower the middle comes out when a curve is cut again, right and over the centreline.

    Parameters
    ----------
    radius, offset : float
        The curve that is there, and how far its middle lies off the centreline, mm; an infinite radius is flat.
    wanted : float
        The radius to cut, mm; infinite for flat.
    width : float
        Within which the new curve has to lie in the wood, mm: the finished board's, since what is torn or missing in
        the waste goes with the waste.

    Returns
    -------
    float
        Millimetres, 0 or more.

    Notes
    -----
    Own derivation. The new curve has to lie under the old one everywhere: its apex can stand at
    ``min over y of s(wanted, y) - s(radius, y - offset)`` against the old apex. For equal radii that is at the edge
    away from the offset, and close to ``-(w e + e²)/2R``: half of what the two sides differ by, and a trifle.
    """
    y = np.linspace(-width / 2, width / 2, 2 * PLACES - 1)
    has = _sagitta_of(radius, y - offset)
    return max(0.0, float((has - _sagitta_of(wanted, y)).max()))


def _sagitta_of(radius: float, y: np.ndarray) -> np.ndarray:
    radius = np.float64(radius)
    return sagitta_within(radius, np.minimum(2 * np.abs(y), 2 * radius))
