"""The fret slots: how deep to saw, and what is left under them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from geometry.allowances import Ledger
from geometry.measured import CLOSE
from geometry.stack import Stack
from geometry.tops import Tops


@dataclass(frozen=True, slots=True)
class Slots:
    """Slots of a stack of boards.

    Attributes
    ----------
    depth, web : ndarray, shape (boards, frets)
        Depth of each slot for itself, and what it then leaves under it at the board's edge, mm.
    deepest, weakest : ndarray of int, shape (boards,)
        The fret that the saw is set for, and the one that it leaves least under; the same on a level top.
    setting, web_least, void : ndarray, shape (boards,)
        One saw setting for the whole board, the least web it leaves, and the largest empty space under a tang on
        the centreline, mm.
    seat : ndarray, shape (boards,)
        How far below the finished surface the floor lies where it lies least deep: tang and clearance, unless the
        slots were sawn otherwise, mm.
    """

    depth: np.ndarray
    web: np.ndarray
    deepest: np.ndarray
    weakest: np.ndarray
    setting: np.ndarray
    web_least: np.ndarray
    void: np.ndarray
    seat: np.ndarray


@dataclass(frozen=True, slots=True)
class SlotEnds:
    """The two ends of each slot of a stack of boards, arrays of shape (2, boards, frets), mm.

    Attributes
    ----------
    drop : ndarray
        How much lower the finished board is there than in its middle.
    rise : ndarray
        How much higher the flat top is there than at the thinner end of the blank.
    """

    drop: np.ndarray
    rise: np.ndarray


def cut_slots(
    stack: Stack, ledger: Ledger, drop: np.ndarray, ends: SlotEnds | None = None, tops: Tops | None = None
) -> Slots:
    """Work out the slots from how much lower the board is at the ends of each slot than at its middle.

    Parameters
    ----------
    stack : Stack
        The boards.
    ledger : Ledger
        Their thickness ledger.
    drop : ndarray, shape (boards, frets)
        The sagitta at the lower end of each slot, from the first fret on, mm.
    ends, tops : SlotEnds and Tops, optional
        Where anything was read of the boards: how their tops lie, and the slots that are in them.

    Notes
    -----
    The floor lies tang and clearance below the finished surface where that is lowest. Along a straight slot that is
    at one of its two ends, fanned or not: from the middle outwards the surface falls as |y| grows, and the little
    that a cone's radius changes over the slant is too small to turn that round.

    Sawn flat before radiusing, the depth counts from the flat top and the floor is level, so under one saw setting
    the least web stands everywhere. Sawn after radiusing with the floor following the curve, every slot is as deep
    as any other and the web is thicker in the middle, but at the edge it is the same.

    A top that was read as not level (own derivation): the saw goes down from the top, so that the floor is parallel to
    it, ``t(x) - depth`` high. It is deep enough where ``t(x) + s`` is largest, and leaves least where ``t(x)`` is
    least: a slope of the top by ``d`` over the board costs up to ``d`` of web, besides what the thinner end lacks.
    """
    used = np.arange(1, drop.shape[1] + 1) <= stack.frets[:, None]
    flat = ~stack.after_radiusing
    lower, lift, thin = drop, np.zeros(1), ledger.before_radiusing
    if ends is not None and tops is not None:
        rise = np.where(flat[:, None], ends.rise, 0.0)
        lower, lift, thin = (ends.drop + rise).max(axis=0), rise.min(axis=0), tops.thin
    deepest = np.where(used, lower, -1.0).argmax(axis=1)
    most = np.take_along_axis(lower, deepest[:, None], axis=1)[:, 0]
    weakest, least_lift = deepest, 0.0
    if tops is not None:
        lifts = np.where(used, lift, np.inf)
        least_lift = lifts.min(axis=1)
        weakest = np.where(tops.spread > 0, lifts.argmin(axis=1), deepest)
    below = stack.tang + stack.clearance
    base = np.where(flat, thin, ledger.after_radiusing) - ledger.finished + below
    sawn = Slots(
        depth=base[:, None] + np.where(flat[:, None], lower, 0.0),
        web=(ledger.finished - below)[:, None] - (lower - lift),
        deepest=deepest + 1,
        weakest=weakest + 1,
        setting=base + np.where(flat, most, 0.0),
        web_least=ledger.finished - below - (most - least_lift),
        void=stack.clearance + np.where(flat, most - least_lift, 0.0),
        seat=below,
    )
    return sawn if tops is None else _as_sawn(sawn, stack, ledger, tops, used, (drop, lift, most))


def _as_sawn(
    planned: Slots,
    stack: Stack,
    ledger: Ledger,
    tops: Tops,
    used: np.ndarray,
    heights: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> Slots:
    """Put the slots that are in the boards in the place of those planned.

    ``heights``: drop of each slot, least rise of the top along it, and the most that the saw has to go down for any.
    """
    drop, lift, most = heights
    flat, depth = ~stack.after_radiusing, tops.slot_depth
    is_in, inside = ~np.isnan(depth), ~np.isnan(tops.floor)
    top = np.where(flat[:, None], tops.thin[:, None] + lift, ledger.after_radiusing[:, None] - drop)
    web = np.where(is_in[:, None], top - depth[:, None], planned.web)
    floor = np.where(flat[:, None], tops.floor[:, None], tops.floor[:, None] - drop)
    web = np.where(inside[:, None], np.fmin(web, floor), web)
    under = np.where(used, np.where(is_in[:, None] | inside[:, None], web, np.inf), np.inf)
    least, at_planned = under.min(axis=1), np.take_along_axis(under, planned.weakest[:, None] - 1, axis=1)[:, 0]
    changed = is_in | (inside & (least < planned.web_least))
    middle = np.where(flat, tops.thin + np.where(used, lift, np.inf).min(axis=1), ledger.after_radiusing) - depth
    void = np.where(is_in, ledger.finished - middle - stack.tang, planned.void)
    seat = depth + ledger.finished - np.where(flat, tops.thin + most, ledger.after_radiusing)
    return replace(
        planned,
        depth=np.where(is_in[:, None], depth[:, None], planned.depth),
        web=web,
        weakest=np.where(changed & (least < at_planned - CLOSE), under.argmin(axis=1) + 1, planned.weakest),
        setting=np.where(is_in, depth, planned.setting),
        web_least=np.where(changed, least, planned.web_least),
        void=np.where(inside, np.fmax(void, ledger.finished - tops.floor - stack.tang), void),
        seat=np.where(is_in, seat, planned.seat),
    )
