"""Where the frets lie: equal temperament, on one scale length or fanned over two."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import ArrayLike

if TYPE_CHECKING:
    from geometry.stack import Stack

MAX_FRETS: Final = 60
SETTLED_MM: Final = 1e-9
MOST_ROUNDS: Final = 50

# The share of the scale length that lies between the nut and each fret.
SHARES: Final = 1 - np.exp2(-np.arange(MAX_FRETS + 1) / 12)


def distance_from_nut(scale: ArrayLike, fret: ArrayLike) -> np.ndarray:
    """Distance of a fret from the nut, ``L (1 - 2^(-n/12))``, mm.

    Parameters
    ----------
    scale : array_like
        Scale length, mm, without compensation, broadcast against `fret`.
    fret : array_like
        Number of the fret; 0 is the nut.
    """
    return np.asarray(scale, float) * (1 - np.exp2(-np.asarray(fret, float) / 12))


@dataclass(frozen=True, slots=True)
class FretLines:
    """Fret lines of a stack of boards: one row for each board, one column for each fret from the nut (0) on.

    Attributes
    ----------
    length : ndarray, shape (boards,)
        Nut face to heel, mm.
    centre, bass, treble : ndarray, shape (boards, frets + 1)
        Distance from the nut face at which the line meets the centreline and the two edges, mm. One and the same
        array where no board of the stack is fanned. Columns past a board's last fret stay at the heel.
    settled, orderly : ndarray of bool, shape (boards,)
        Whether the length of a fanned board could be found, and whether its frets keep clear of one another.
    """

    length: np.ndarray
    centre: np.ndarray
    bass: np.ndarray
    treble: np.ndarray
    settled: np.ndarray
    orderly: np.ndarray

    @property
    def fanned(self) -> bool:
        """Whether any board of the stack is fanned."""
        return self.bass is not self.centre


def lay_frets(stack: Stack) -> FretLines:
    """Lay out the fret lines of a stack of boards.

    Notes
    -----
    On a fanned board the scale lengths are measured along the two outer strings, which lie inside the edges by
    ``inset`` and so lean with the taper; each fret is the straight line through its two points, carried to the
    edges. The length of the board sets the taper, the taper the lean, and the lean the place of the last fret,
    from which the length follows: this is gone round until it stands still to `SETTLED_MM`.
    """
    shares = SHARES[: stack.frets.max() + 1]
    centre = stack.treble[:, None] * shares
    length = stack.treble * SHARES[stack.frets] + stack.overhang
    fine = np.ones(len(length), bool)
    bass = treble = centre
    settled = orderly = fine
    rows = np.flatnonzero(stack.fanned)
    if rows.size:
        bass, treble, settled, orderly = centre.copy(), centre.copy(), fine.copy(), fine.copy()
        fan = _Fan(stack.take(rows))
        with np.errstate(all="ignore"):  # a board that cannot be fanned comes out as not settled or not orderly
            settled[rows] = fan.settle()
            centre[rows], bass[rows], treble[rows] = fan.lines(shares)
            length[rows] = fan.length
            orderly[rows] = fan.in_order(bass[rows], treble[rows])
    if stack.frets.min() < stack.frets.max():
        for lines in {id(lines): lines for lines in (centre, bass, treble)}.values():
            np.minimum(lines, length[:, None], out=lines)
    return FretLines(length, centre, bass, treble, settled, orderly)


class _Fan:
    """The fanned boards of a stack, while their length is being found."""

    def __init__(self, stack: Stack) -> None:
        self.stack = stack
        self.length = np.maximum(stack.bass, stack.treble) * SHARES[stack.frets] + stack.overhang

    def settle(self) -> np.ndarray:
        """Go round until each board's length stands still; a board that does is left as it is."""
        stack = self.stack
        settled = np.zeros(len(self.length), bool)
        last = SHARES[stack.frets][:, None]
        for _ in range(MOST_ROUNDS):
            _, bass, treble = self.lines(last)
            length = np.maximum(bass, treble)[:, 0] + stack.overhang
            now = np.abs(length - self.length) < SETTLED_MM
            self.length = np.where(settled | ~np.isfinite(length), self.length, length)
            settled |= now
            if settled.all():
                break
        return settled

    def lines(self, shares: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Find where fret lines meet the centreline and the two edges, for the length as it stands.

        A line runs from (xb, yb) on the bass string to (xt, yt) on the treble string. Carried on, it meets the
        edges y = -W(x)/2 and y = +W(x)/2, which are straight as well, so each meeting point is a quotient.
        """
        stack = self.stack
        taper = ((stack.heel_width - stack.nut_width) / self.length)[:, None]
        cosine = 1 / np.hypot(1, taper / 2)
        bass_scale, treble_scale, inset = (v[:, None] for v in (stack.bass, stack.treble, stack.inset))
        start = (treble_scale - bass_scale) * SHARES[stack.square_fret][:, None] * cosine / 2
        xb = start + bass_scale * shares * cosine
        xt = -start + treble_scale * shares * cosine
        wb, wt = (stack.nut_width[:, None] + taper * x for x in (xb, xt))
        across, along = (wb + wt) / 2 - 2 * inset, xt - xb
        centre = xb + along * (wb / 2 - inset) / across
        bass = xb - along * inset / (across + taper * along / 2)
        treble = xb + along * (wb - inset) / (across - taper * along / 2)
        return centre, bass, treble

    def in_order(self, bass: np.ndarray, treble: np.ndarray) -> np.ndarray:
        """Tell which boards' frets follow one another at both edges, so that no two cross on the board."""
        used = np.arange(1, bass.shape[1]) <= self.stack.frets[:, None]
        rising = (np.diff(bass) > 0) & (np.diff(treble) > 0)
        return (rising | ~used).all(axis=1)
