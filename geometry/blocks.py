"""Sanding blocks: how far one radius along a whole board is from the radius that is wanted."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geometry.request import Board
from geometry.surface import sagitta


def block_error(radius: ArrayLike, board: Board) -> np.ndarray:
    """Worst error in the height of the edge when a board is sanded with a block of one radius.

    Along the board the wanted radius runs evenly from nut to heel, so that the edge is furthest off at one of the
    two ends: ``max |s(R_block, W) - s(R, W)|`` over nut and heel (own derivation; the sagitta s is that of
    `geometry.surface`).

    Parameters
    ----------
    radius : array_like
        Radius of the hollow of each block, mm; infinite for a flat block. Any shape.
    board : Board
        The finished board.

    Returns
    -------
    ndarray
        Of the shape of ``radius``, mm, not negative. Infinite where a block is rounder than the board is wide.
    """
    blocks = np.asarray(radius, float)
    ends = (board.radius.nut, board.radius.heel) if board.radius else (np.inf, np.inf)
    errors = []
    for width, wanted in zip((board.nut_width, board.heel_width), ends, strict=True):
        too_round = 2 * blocks < width
        cut = sagitta(np.where(too_round, np.inf, blocks), width)
        errors.append(np.where(too_round, np.inf, np.abs(cut - sagitta(wanted, width))))
    return np.maximum(*errors)


def choose_block(radii: ArrayLike, board: Board) -> tuple[int, float] | None:
    """Choose the block that comes nearest to a board; of equals the first.

    Parameters
    ----------
    radii : array_like, shape (blocks,)
        Radius of each block, mm; infinite for a flat one.
    board : Board
        The finished board.

    Returns
    -------
    (int, float) or None
        The block's place and its worst error at the edge, mm. None without a block that spans the board.
    """
    errors = np.atleast_1d(block_error(radii, board))
    if not errors.size or not np.isfinite(errors.min()):
        return None
    best = int(errors.argmin())
    return best, float(errors[best])
