"""The tops of boards as they go to the cut: what was read stands in the place of what was planned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from geometry.allowances import Layout
from geometry.measured import FIGURES, NOTHING, AsMeasured
from geometry.stack import Stack


@dataclass(frozen=True, slots=True)
class Measures:
    """`AsMeasured` for a stack of boards: arrays of shape (boards,), NaN for what was not read."""

    head: np.ndarray
    heel: np.ndarray
    slot_depth: np.ndarray
    centre: np.ndarray
    at_most: np.ndarray
    floor: np.ndarray


def measures_of(measured: Sequence[AsMeasured | None]) -> Measures | None:
    """Stack what was read of boards; None where nothing was read of any."""
    if all(one is None or one.nothing for one in measured):
        return None
    rows = [[getattr(one or NOTHING, name) for name in FIGURES] for one in measured]
    table = np.array([[np.nan if value is None else value for value in row] for row in rows], float)
    return Measures(*table.T)


@dataclass(frozen=True, slots=True)
class Tops:
    """The top of boards as they go to the cut, where it is not as planned.

    Attributes
    ----------
    thin : ndarray, shape (boards,)
        Thickness of the thinner end before radiusing, mm.
    spread : ndarray, shape (boards,)
        How much thicker the thicker end is, mm.
    rise : ndarray, shape (boards, 2)
        How much higher than at the thinner end the top lies at the head and at the heel end of the blank, mm.
    slot_depth, floor : ndarray, shape (boards,)
        As in `AsMeasured`; NaN where there is nothing.
    """

    thin: np.ndarray
    spread: np.ndarray
    rise: np.ndarray
    slot_depth: np.ndarray
    floor: np.ndarray

    def rise_at(self, x: np.ndarray, layout: Layout) -> np.ndarray:
        """How much higher than at the thinner end the flat top lies at rows of distances from the nut face, mm."""
        along = (x - layout.blank_head[:, None]) / layout.blank_length[:, None]
        return self.rise[:, :1] + (self.rise[:, 1:] - self.rise[:, :1]) * along


def put_in(stack: Stack, measures: Measures) -> tuple[Stack, Tops]:
    """Put what was read in the place of what was planned.

    Parameters
    ----------
    stack : Stack
        The boards as planned.
    measures : Measures
        What was read of them.

    Returns
    -------
    stack : Stack
        The same boards, with the finished thickness, the sanding and the skim that they still have.
    tops : Tops
        What a stack has no place for: how the top lies along the board, and slots that are sawn.

    Notes
    -----
    Own derivation. Let the plan be finished ``t_f``, ``t_a = t_f + sanding``, ``t_r = t_a + skim``, and ``t`` the
    thickness read at the thinner end, which governs: the curve's apex is level, and it has to lie in the wood from end
    to end.

    - ``t >= t_a``: the cut leaves ``t_a`` as planned and takes ``t - t_a`` off the thinner end, more off the thicker.
      The skim is what gives.
    - ``t < t_a``: a cutter set to ``t_a`` would pass over the middle and leave a flat there. So it is set to ``t``:
      the curve comes out whole, lower by ``t_a - t``, and so do its corners. The sanding is what gives.
    - ``t < t_f``: there is no sanding left to give; the board comes out ``t_f - t`` thinner than its spec, and so
      do its edges.

    Read again on the centreline once radiused, ``c`` stands in the place of ``t_a``: the board is sanded from there to
    ``t_f`` where that is lower, and stays as thin as it is where it is not.

    All figures are the planned ones and a difference to them, so that a reading that equals the plan changes not even
    their last digit.
    """
    planned_after = stack.thickness + stack.sanding
    planned_before = planned_after + stack.skim
    head = np.where(np.isnan(measures.head), measures.heel, measures.head)
    heel = np.where(np.isnan(measures.heel), measures.head, measures.heel)
    read_after = ~np.isnan(measures.centre)
    at_most = np.where(np.isnan(measures.at_most), np.inf, measures.at_most)
    cap = np.where(
        np.isnan(measures.slot_depth), at_most, np.inf
    )  # slots that are sawn count from the top of their day
    head, heel = (np.minimum(np.where(np.isnan(end), planned_before, end), cap) for end in (head, heel))
    thin = np.minimum(head, heel)
    after = np.where(read_after, measures.centre, np.minimum(np.minimum(planned_after, thin), at_most))
    off = after - planned_after
    finished = stack.thickness + np.minimum(off + stack.sanding, 0.0)
    finished = np.where(off + stack.sanding < 0, after, finished)
    sanding = stack.sanding + np.maximum(off, -stack.sanding)
    now = np.where(read_after, thin, np.minimum(thin, at_most))  # what the cutter meets in the middle
    skim = np.maximum(stack.skim + (now - planned_before) - off, 0.0)
    rise = np.stack((head - thin, heel - thin), axis=1)
    measured = replace(stack, thickness=finished, sanding=sanding, skim=skim)
    return measured, Tops(thin, rise.max(axis=1), rise, measures.slot_depth, measures.floor)
