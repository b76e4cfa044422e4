"""The board seen from above: widths, the finished outline, and the rough one that tapering leaves."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geometry.result import BoardFigures, Point


def width_at(x: ArrayLike, nut_width: ArrayLike, heel_width: ArrayLike, length: ArrayLike) -> np.ndarray:
    """Width at distance ``x`` from the nut face, mm: a straight taper, which goes on over the nut ledge (x < 0).

    Parameters
    ----------
    x : array_like
        Distance from the nut face, mm.
    nut_width, heel_width : array_like
        Width at x = 0 and at x = `length`, mm.
    length : array_like
        Nut face to heel, mm.
    """
    nut_width, length = np.asarray(nut_width, float), np.asarray(length, float)
    return nut_width + (heel_width - nut_width) / length * np.asarray(x, float)


def outline(
    board: BoardFigures, nut_width: float, heel_width: float, *, nut_ledge: float = 0.0, edge: float = 0.0
) -> tuple[Point, ...]:
    """Corners of the board seen from above: head bass, head treble, heel treble, heel bass.

    Parameters
    ----------
    board : BoardFigures
        The board, worked out.
    nut_width, heel_width, nut_ledge : float
        As in the request, mm.
    edge : float
        How far the outline stands proud of the finished one at each side, square to the centreline, mm: 0 for the
        finished board, the allowance for the rough outline that tapering leaves.

    Returns
    -------
    tuple of (x, y)
        Millimetres from the nut face and from the centreline, bass side negative. The heel is cut square; the head
        runs along the nut, behind it by the ledge, so on a fanned board it slants.
    """
    nut, taper = board.frets[0], (heel_width - nut_width) / board.length
    (xb, yb), (xt, yt) = nut.bass, nut.treble
    slant = (xt - xb) / (yt - yb)
    back = xb - slant * yb - nut_ledge  # where the head end crosses the centreline
    half = nut_width / 2 + edge
    heel = width_at(board.length, nut_width, heel_width, board.length) / 2 + edge
    corners = []
    for side in (-1, 1):  # on the edge y = side (half + taper x / 2), and on x = back + slant y
        x = (back + slant * side * half) / (1 - slant * side * taper / 2)
        corners.append((float(x), float(side * (half + taper * x / 2))))
    return (*corners, (board.length, float(heel)), (board.length, float(-heel)))


def rough_widths(nut_width: float, heel_width: float, edge: float) -> tuple[float, float]:
    """Width at the nut face and at the heel that tapering leaves, mm: proud by ``edge`` at each side."""
    return nut_width + 2 * edge, heel_width + 2 * edge
