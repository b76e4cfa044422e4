"""Choosing from the rack: which two formers, which way about, and where along the bed the board lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from geometry.jig import Pairs, Work
from geometry.request import Former, Jig
from geometry.surface import sagitta_within

ROUNDS: Final = 8
ALIKE: Final = 1e-6  # mm: setups that come this close to one another are as good as one another
AT_ONCE: Final = 200_000  # boards times pairs in one sweep, so that memory stays small


@dataclass(frozen=True, slots=True)
class Choice:
    """The setup chosen for each board, arrays of shape (boards,).

    Attributes
    ----------
    head, heel : ndarray of int
        Places of the two formers in the rack; -1 where no pair is possible.
    nut_at : ndarray
        Where along the bed the nut lies, mm.
    nut_radius, heel_radius : ndarray
        What is cut, mm.
    edge_error : ndarray
        The worst of both ends: how far the curve's drop to the edge is off, mm.
    drift : ndarray
        Height of the apex at the heel over that at the nut, mm.
    worst : ndarray
        How far the surface is off at worst, in height, over the middle and the edge of both ends, mm. Without drift
        it is the edge error. It is what pairs are judged by: a curve that is right on an apex that is not level
        makes a wedge.
    """

    head: np.ndarray
    heel: np.ndarray
    nut_at: np.ndarray
    nut_radius: np.ndarray
    heel_radius: np.ndarray
    edge_error: np.ndarray
    drift: np.ndarray
    worst: np.ndarray


def room(jig: Jig, work: Work) -> tuple[np.ndarray, np.ndarray]:
    """Find the first and the last place for the nut with the whole blank on the bed; crossed over if too long."""
    return jig.end_clearance - work.blank_head, jig.span - jig.end_clearance - work.blank_heel


def choose(jig: Jig, formers: Sequence[Former], work: Work, standing: tuple[str, str] | None = None) -> Choice:
    """Choose over every ordered pair in the rack; two of one kind need two pieces.

    Parameters
    ----------
    jig : Jig
        The jig.
    formers : sequence of Former
        The rack.
    work : Work
        The boards.
    standing : pair of str, optional
        Names of the formers that stand on the jig now, head end first. Among setups that are equally good, the one
        that changes fewest pieces is taken, and after that the first in the rack's order.
    """
    head, heel = _ordered_pairs(formers)
    boards = len(work.length)
    if not head.size:
        nothing, none = np.zeros(boards), np.full(boards, -1)
        return Choice(none, none, *[nothing] * 6)
    radius, apex = (np.array([getattr(f, name) for f in formers], float) for name in ("radius", "apex"))
    pairs = Pairs.of(jig, (radius[head], apex[head]), (radius[heel], apex[heel]))
    changes = _changes(formers, head, heel, standing)
    found = []
    step = max(1, AT_ONCE // head.size)
    for start in range(0, boards, step):
        some = Work(*(getattr(work, name)[start : start + step] for name in Work.__dataclass_fields__))
        found.append(_choose(jig, pairs, head, heel, changes, some))
    return Choice(*(np.concatenate(parts) for parts in zip(*found, strict=True)))


def _ordered_pairs(formers: Sequence[Former]) -> tuple[np.ndarray, np.ndarray]:
    counts = np.array([former.count for former in formers], int)
    there = counts > 0
    return np.nonzero((there[:, None] & there) & ~np.diag(counts == 1))


def _changes(
    formers: Sequence[Former], head: np.ndarray, heel: np.ndarray, standing: tuple[str, str] | None
) -> np.ndarray:
    """Count the pieces that each pair changes on the jig as it stands."""
    if standing is None:
        return np.zeros(len(head), int)
    at_head, at_heel = (np.array([former.name != name for former in formers], int) for name in standing)
    return at_head[head] + at_heel[heel]


def _choose(
    jig: Jig, pairs: Pairs, head: np.ndarray, heel: np.ndarray, changes: np.ndarray, work: Work
) -> tuple[np.ndarray, ...]:
    """Choose for boards few enough for one sweep, with a row for each board and a column for each pair."""
    column = {name: getattr(work, name)[:, None] for name in Work.__dataclass_fields__}
    length, apex = column["length"], work.apex(jig)[:, None]
    first, last = (bound[:, None] for bound in room(jig, work))
    wanted_nut = sagitta_within(column["nut_radius"], column["nut_width"])
    wanted_heel = sagitta_within(column["heel_radius"], column["heel_width"])
    with np.errstate(all="ignore"):  # pairs that cannot be come out as not possible
        radius = _balanced(pairs.growth * length, column["nut_width"], column["heel_width"], wanted_nut + wanted_heel)
        middle = (jig.span - length) / 2
        straight = pairs.cut(np.zeros_like(length), length, apex).nut_radius
        place = np.where(np.abs(pairs.shift) < 1e-12, middle, (radius - straight) / pairs.shift)
        place = np.minimum(np.maximum(place, first), np.maximum(first, last))
        cut = pairs.cut(place, length, apex)
        off_nut = sagitta_within(cut.nut_radius, column["nut_width"]) - wanted_nut
        off_heel = sagitta_within(cut.heel_radius, column["heel_width"]) - wanted_heel
        half_drift = cut.drift / 2
        worst = np.maximum(np.abs(off_nut + half_drift), np.abs(off_heel - half_drift))
        worst = np.maximum(worst, np.abs(half_drift))
        possible = (first <= last) & (2 * cut.nut_radius > column["nut_width"]) & np.isfinite(worst)
        possible &= (2 * cut.heel_radius > column["heel_width"]) & (cut.below > 0) & (apex > np.abs(half_drift))
    worst = np.where(possible, worst, np.inf)
    least = worst.min(axis=1, keepdims=True)
    rank = np.where(worst <= least + ALIKE, changes, changes.max() + 1)
    best = rank.argmin(axis=1)
    rows = np.arange(len(best))
    none = ~possible[rows, best]
    edge_error = np.maximum(np.abs(off_nut), np.abs(off_heel))
    parts = (place, cut.nut_radius, cut.heel_radius, edge_error, np.broadcast_to(cut.drift, worst.shape), worst)
    return (
        *(np.where(none, -1, formers[best]) for formers in (head, heel)),
        *(np.where(none, 0.0, part[rows, best]) for part in parts),
    )


def _balanced(rise: np.ndarray, nut_width: np.ndarray, heel_width: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Find the radius at the nut that leaves the board as much too round at one end as it is too flat at the other.

    Along the bed both ends get rounder or flatter together, so the worse of the two errors is least where their sum
    is 0. That sum falls with the radius and is convex, and the parabola's own answer lies below the root: Newton's
    rule climbs from there without ever passing it.

    Parameters
    ----------
    rise : ndarray
        How much larger the radius is at the heel, mm.
    nut_width, heel_width : ndarray
        Width at the two ends, mm.
    wanted : ndarray
        Sum of the two sagittas wanted, mm.
    """
    least = np.maximum(nut_width / 2, heel_width / 2 - rise) * (1 + 1e-9)
    a, b = np.square(nut_width) / 8, np.square(heel_width) / 8
    half = (a + b - wanted * rise) / (2 * wanted)
    radius = np.maximum(half + np.sqrt(np.square(half) + a * rise / wanted), least)
    for _ in range(ROUNDS):
        error, fall = -wanted, 0.0
        for chord, at in ((nut_width, radius), (heel_width, radius + rise)):
            root = np.sqrt(np.square(at) - np.square(chord) / 4)
            error = error + sagitta_within(at, chord)
            fall = fall + (1 - at / root)
        radius = np.maximum(radius - error / fall, least)
    return np.where(wanted > 0, radius, np.inf)
