"""What has to be there before the cut: the thickness ledger, and the blank around the board."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geometry.frets import FretLines
from geometry.outline import width_at
from geometry.stack import Stack
from geometry.surface import radius_at


@dataclass(frozen=True, slots=True)
class Ledger:
    """Thickness on the centreline from the finished board back to intake, mm, shape (boards,)."""

    finished: np.ndarray
    after_radiusing: np.ndarray
    before_radiusing: np.ndarray
    intake_min: np.ndarray


def thickness_ledger(stack: Stack) -> Ledger:
    """Add up what each stage takes off, from the finished board backwards; flattening takes its share twice."""
    after = stack.thickness + stack.sanding
    before = after + stack.skim
    return Ledger(stack.thickness, after, before, before + 2 * stack.flatten)


@dataclass(frozen=True, slots=True)
class Layout:
    """How a board lies in its blank, mm, arrays of shape (boards,).

    Attributes
    ----------
    head, heel : ndarray
        Distance from the nut face to the two ends of the finished board; ``head`` is 0 or less.
    blank_head, blank_heel : ndarray
        The same for the two ends of the blank.
    needed_length, needed_width : ndarray
        The smallest blank that will do.
    blank_length, blank_width : ndarray
        The blank as measured, or the smallest that will do where there is none.
    radius_head, radius_heel : ndarray
        Radius of the cut at the two ends of the blank, carried on past the board.
    """

    head: np.ndarray
    heel: np.ndarray
    blank_head: np.ndarray
    blank_heel: np.ndarray
    needed_length: np.ndarray
    needed_width: np.ndarray
    blank_length: np.ndarray
    blank_width: np.ndarray
    radius_head: np.ndarray
    radius_heel: np.ndarray


def lay_out(stack: Stack, lines: FretLines) -> Layout:
    """Lay the boards in their blanks.

    The nut of a fanned board slants, so at one edge it reaches past x = 0, and the ledge and the run-out start
    from there. At the heel the length of the board has that in it already.
    """
    length = lines.length
    reach = np.minimum(0.0, np.minimum(lines.bass[:, 0], lines.treble[:, 0])) if lines.fanned else 0.0
    head = reach - stack.nut_ledge
    needed_length = length - head + 2 * stack.end + stack.proving
    widest = np.maximum(width_at(head, stack.nut_width, stack.heel_width, length), stack.heel_width)
    needed_width = widest + 2 * stack.edge
    given = stack.blank_length > 0
    blank_length = np.where(given, stack.blank_length, needed_length)
    blank_width = np.where(given, stack.blank_width, needed_width)
    blank_head = head - stack.end
    blank_heel = blank_head + blank_length
    ends = (radius_at(x, stack.nut_radius, stack.heel_radius, length) for x in (blank_head, blank_heel))
    return Layout(head, length, blank_head, blank_heel, needed_length, needed_width, blank_length, blank_width, *ends)
