"""A stack of boards, worked out: the parts that its modules leave, side by side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometry.allowances import Layout, Ledger
from geometry.frets import FretLines
from geometry.passes import Fan
from geometry.slots import Slots
from geometry.stack import Stack


@dataclass(frozen=True, slots=True)
class Figures:
    """A stack of boards, worked out: arrays with one row for each board, and one column for each fret from the nut on.

    Attributes
    ----------
    stack, ledger, lines, layout, slots : Stack, Ledger, FretLines, Layout, Slots
        The boards, and their parts as those modules leave them; the ledger has what was read by now in it.
    planned : Ledger
        The ledger as planned, whatever was read.
    width, radius, sagitta : ndarray, shape (boards, frets + 1)
        On the centreline at each fret, mm; the radius of a flat board is infinite.
    edge : ndarray, shape (boards, frets + 1)
        Thickness of the finished edge at the thinner end of each fret, mm.
    edge_head, edge_heel : ndarray, shape (boards,)
        The same at the two ends of the board.
    bite : ndarray, shape (boards,)
        How much the cutter takes off the middle where that is thickest, mm: the skim, on a board as planned.
    corner_head, corner_heel : ndarray, shape (boards,)
        Thickness at the corners of the radiused, still square blank, mm.
    fan : Fan or None
        The passes of those boards that have a cutter; `fan_rows` says which.
    fan_rows : ndarray of int
        Rows of the stack that the rows of `fan` belong to.
    """

    stack: Stack
    ledger: Ledger
    planned: Ledger
    lines: FretLines
    layout: Layout
    slots: Slots
    width: np.ndarray
    radius: np.ndarray
    sagitta: np.ndarray
    edge: np.ndarray
    edge_head: np.ndarray
    edge_heel: np.ndarray
    bite: np.ndarray
    corner_head: np.ndarray
    corner_heel: np.ndarray
    fan: Fan | None
    fan_rows: np.ndarray
