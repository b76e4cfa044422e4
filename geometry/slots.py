"""The fret slots: how deep to saw, and what is left under them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometry.allowances import Ledger
from geometry.stack import Stack


@dataclass(frozen=True, slots=True)
class Slots:
    """Slots of a stack of boards.

    Attributes
    ----------
    depth, web : ndarray, shape (boards, frets)
        Depth of each slot for itself, and what it then leaves under it at the board's edge, mm.
    deepest : ndarray of int, shape (boards,)
        The fret whose slot leaves least.
    setting, web_least, void : ndarray, shape (boards,)
        One saw setting for the whole board, the least web it leaves, and the largest empty space under a tang on
        the centreline, mm.
    """

    depth: np.ndarray
    web: np.ndarray
    deepest: np.ndarray
    setting: np.ndarray
    web_least: np.ndarray
    void: np.ndarray


def cut_slots(stack: Stack, ledger: Ledger, drop: np.ndarray) -> Slots:
    """Work out the slots from how much lower the board is at the ends of each slot than at its middle.

    Parameters
    ----------
    stack : Stack
        The boards.
    ledger : Ledger
        Their thickness ledger.
    drop : ndarray, shape (boards, frets)
        The sagitta at the lower end of each slot, from the first fret on, mm.

    Notes
    -----
    The floor lies tang and clearance below the finished surface where that is lowest. Along a straight slot that is
    at one of its two ends, fanned or not: from the middle outwards the surface falls as |y| grows, and the little
    that a cone's radius changes over the slant is too small to turn that round.

    Sawn flat before radiusing, the depth counts from the flat top and the floor is level, so under one saw setting
    the least web stands everywhere. Sawn after radiusing with the floor following the curve, every slot is as deep
    as any other and the web is thicker in the middle, but at the edge it is the same.
    """
    used = np.arange(1, drop.shape[1] + 1) <= stack.frets[:, None]
    deepest = np.where(used, drop, -1.0).argmax(axis=1)
    most = np.take_along_axis(drop, deepest[:, None], axis=1)[:, 0]
    below = stack.tang + stack.clearance
    curve = ~stack.after_radiusing
    waste = np.where(curve, ledger.before_radiusing, ledger.after_radiusing) - ledger.finished
    base = waste + below
    return Slots(
        depth=base[:, None] + np.where(curve[:, None], drop, 0.0),
        web=(ledger.finished - below)[:, None] - drop,
        deepest=deepest + 1,
        setting=base + np.where(curve, most, 0.0),
        web_least=ledger.finished - below - most,
        void=stack.clearance + np.where(curve, most, 0.0),
    )
