"""Readings of boards one after another that creep the same way: something wears or works loose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

LEAST: Final = 3  # boards


@dataclass(frozen=True, slots=True)
class Drift:
    """The last readings that creep the same way: how many there are, and how far they have come, mm."""

    boards: int
    by: float


def drift(off: Sequence[float], tolerance: float) -> Drift | None:
    """Look whether the last boards creep the same way.

    Parameters
    ----------
    off : sequence of float
        How far each board was off what it should have been, in the order in which they were made, mm.
    tolerance : float
        How far one may be off, mm.

    Returns
    -------
    Drift or None
        The longest run of boards, up to the last, of which each is further the same way than the one before it; if
        there are three at least and they have come half the tolerance or more.

    Notes
    -----
    Own rule. Control charts take six points in a row that rise or fall (L. S. Nelson, Journal of Quality Technology
    16, 1984, test 3; from memory): among six boards that scatter by chance alone 1 run in 360 would. A shop's run is
    over by then. Three do it by chance once in three, so that the way they have come has to count as well.
    """
    steps = [after - before for before, after in zip(off, off[1:], strict=False)]
    run = 0
    while run < len(steps) and steps[-1 - run] * steps[-1] > 0:
        run += 1
    by = off[-1] - off[-1 - run] if run else 0.0
    if run + 1 < LEAST or abs(by) < tolerance / 2 - 1e-9:
        return None
    return Drift(run + 1, by)
