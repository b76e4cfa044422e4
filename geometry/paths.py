"""The cheapest open path over stops, each taken once, in one of several ways, and only where it may be taken."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

STARTS: Final = 12  # from how many places the long way is begun at most,
EFFORT: Final = 600  # and over so many stops in all: among very many, one beginning more finds little
CLOSER: Final = 1e-9  # what a move has to save


def exact_path(start: np.ndarray, step: np.ndarray, ways: int = 1, allowed: np.ndarray | None = None) -> list[int]:
    """Find the cheapest open path over all stops, each taken in one of several ways, by subsets.

    Parameters
    ----------
    start : ndarray, shape (stops * ways,)
        Cost of beginning in each state; the states of a stop stand together.
    step : ndarray, shape (stops * ways, stops * ways)
        Cost from one state to the next.
    ways : int
        In how many ways a stop can be taken.
    allowed : ndarray of bool, shape (stops, stops), optional
        Whether at a place of the path (row) a stop (column) may be taken.

    Returns
    -------
    list of int
        One state for each stop, in order. Among paths that cost the same, the one whose first state comes first.

    Raises
    ------
    ValueError
        If no path keeps to what is allowed.

    Notes
    -----
    Dynamic programming over subsets (Held & Karp, J. SIAM 10, 1962), a layer of equally large ones at a time. It
    holds ``2^stops`` rows, so it is for 16 stops or so at most. What is left of a path when a subset remains begins
    at one place whatever came before, so that rules by place cost nothing.
    """
    stops = len(start) // ways
    rest = np.full((1 << stops, stops * ways), np.inf)  # the cheapest way over a subset that begins in a state of it
    sizes = np.array([subset.bit_count() for subset in range(1 << stops)])
    for size in range(1, stops + 1):
        subsets = np.flatnonzero(sizes == size - 1)
        if size == 1:
            reached = np.zeros((1, stops * ways))
        else:
            reached = np.stack([(rest[subsets] + onward).min(axis=1) for onward in step], axis=1)
        for stop in range(stops):
            if allowed is not None and not allowed[stops - size, stop]:
                continue
            free = subsets >> stop & 1 == 0
            states = slice(stop * ways, (stop + 1) * ways)
            rest[subsets[free] | 1 << stop, states] = reached[free, states]
    left = (1 << stops) - 1
    path = [int((start + rest[left]).argmin())]
    if np.isinf(rest[left, path[0]]):
        raise ValueError("No path keeps to what is allowed.")
    while left := left ^ 1 << path[-1] // ways:
        path.append(int((step[path[-1]] + rest[left]).argmin()))
    return path


def fixed_path(start: np.ndarray, step: np.ndarray, order: Sequence[int], ways: int = 1) -> list[int]:
    """Find the cheapest ways to take stops whose order is given: one state for each stop.

    Parameters are those of `exact_path`; `order` holds stops.
    """
    states = np.asarray(order)[:, None] * ways + np.arange(ways)
    cost, came = start[states[0]], []
    for before, after in zip(states[:-1], states[1:], strict=True):
        reached = cost[:, None] + step[np.ix_(before, after)]
        came.append(reached.argmin(axis=0))
        cost = reached.min(axis=0)
    way = int(cost.argmin())
    path = [int(states[-1, way])]
    for place in range(len(came) - 1, -1, -1):
        way = int(came[place][way])
        path.append(int(states[place, way]))
    return path[::-1]


def near_path(start: np.ndarray, step: np.ndarray, ways: int = 1, allowed: np.ndarray | None = None) -> list[int]:
    """Find a cheap open path over many stops: from the nearest next one each time, bettered until nothing helps.

    Parameters and result are those of `exact_path`; any two rows of `allowed` are either alike or have nothing in
    common. A move takes a stop out and puts it in elsewhere, in any of its ways, turns a stretch of the path round,
    or lets two stops change places.
    """
    stops = len(start) // ways
    rows = np.ones((stops, stops), bool) if allowed is None else np.asarray(allowed)
    kind = rows.argmax(axis=1)  # places with the same first stop are alike
    first = np.flatnonzero(np.repeat(rows[0], ways))
    first = first[np.argsort(start[first], kind="stable")][: max(1, min(STARTS, EFFORT // stops))]
    paths = [_bettered(_nearest(int(state), step, ways, rows), start, step, ways, kind) for state in first]
    return min(paths, key=lambda path: path_cost(start, step, path))


def path_cost(start: np.ndarray, step: np.ndarray, path: Sequence[int]) -> float:
    """Add up what a path costs."""
    return float(start[path[0]] + step[path[:-1], path[1:]].sum())


def least_cost(start: np.ndarray, step: np.ndarray, ways: int = 1) -> float:
    """Give a cost that no open path stays under: every stop is entered once, at the least from wherever is nearest.

    Parameters are those of `exact_path`.
    """
    stops = len(start) // ways
    apart = np.kron(~np.eye(stops, dtype=bool), np.ones((ways, ways), bool))
    entered = np.minimum(start, np.where(apart, step, np.inf).min(axis=0)).reshape(stops, ways).min(axis=1)
    return float(entered.sum() + (start.reshape(stops, ways).min(axis=1) - entered).min())


def _nearest(first: int, step: np.ndarray, ways: int, rows: np.ndarray) -> list[int]:
    """Begin somewhere, and go to whatever is nearest each time."""
    path, open_ = [first], np.ones(len(step), bool)
    for row in rows[1:]:
        stop = path[-1] // ways * ways
        open_[stop : stop + ways] = False
        path.append(int(np.where(open_ & np.repeat(row, ways), step[path[-1]], np.inf).argmin()))
    return path


def _bettered(path: list[int], start: np.ndarray, step: np.ndarray, ways: int, kind: np.ndarray) -> list[int]:
    """Make the best move there is, again and again, until none saves anything."""
    # The path between two ends that are always there: what stands now, and nothing more to do.
    begin, end = len(step), len(step) + 1
    cost = np.zeros((end + 1, end + 1))
    cost[:begin, :begin], cost[begin, :begin] = step, start
    while True:
        order = [state // ways for state in path]
        way = np.array([begin, *fixed_path(start, step, order, ways), end])
        move = min(_put_in(way, cost, ways, kind), _turn_round(way, cost, kind), _swap(way, cost, kind))
        if move[0] >= -CLOSER:
            return way[1:-1].tolist()
        path = move[1]


Move = tuple[float, list[int]]
_NOTHING: Final[Move] = (0.0, [])


def _put_in(way: np.ndarray, cost: np.ndarray, ways: int, kind: np.ndarray) -> Move:
    """Take one stop out and put it in elsewhere on its own stretch."""
    inner, before, after = way[1:-1], way[:-2], way[2:]
    stops = len(inner)
    stretch = np.concatenate(([0], np.cumsum(kind[1:] != kind[:-1])))
    out = cost[before, after] - cost[before, inner] - cost[inner, after]
    place, gap = np.arange(stops), np.arange(stops + 1)
    ends = np.where(gap[None] <= place[:, None], gap[None], gap[None] - 1)  # its new place
    fits = (stretch[ends] == stretch[:, None]) & (gap[None] != place[:, None]) & (gap[None] != place[:, None] + 1)
    if not fits.any():
        return _NOTHING
    best = _NOTHING
    for turn in range(ways):
        state = inner // ways * ways + turn
        put = cost[way[:-1][None], state[:, None]] + cost[state[:, None], way[1:][None]] - cost[way[:-1], way[1:]][None]
        saved = np.where(fits, out[:, None] + put, np.inf)
        at, to = np.unravel_index(int(saved.argmin()), saved.shape)
        if saved[at, to] < best[0]:
            rest = np.delete(inner, at).tolist()
            rest.insert(int(ends[at, to]), int(state[at]))
            best = (float(saved[at, to]), rest)
    return best


def _turn_round(way: np.ndarray, cost: np.ndarray, kind: np.ndarray) -> Move:
    """Go through part of one stretch the other way about."""
    inner = way[1:-1]
    stretch = np.concatenate(([0], np.cumsum(kind[1:] != kind[:-1])))
    along = np.concatenate(([0.0], np.cumsum(cost[inner[:-1], inner[1:]])))
    back = np.concatenate(([0.0], np.cumsum(cost[inner[1:], inner[:-1]])))
    saved = cost[way[:-2][:, None], inner[None]] + cost[inner[:, None], way[2:][None]]
    saved = saved - cost[way[:-2], inner][:, None] - cost[inner, way[2:]][None]
    saved = saved + (back - along)[None] - (back - along)[:, None]
    place = np.arange(len(inner))
    saved = np.where((place[:, None] < place[None]) & (stretch[:, None] == stretch[None]), saved, np.inf)
    first, last = np.unravel_index(int(saved.argmin()), saved.shape)
    if not saved[first, last] < 0:
        return _NOTHING
    turned = inner.tolist()
    turned[first : last + 1] = turned[first : last + 1][::-1]
    return float(saved[first, last]), turned


def _swap(way: np.ndarray, cost: np.ndarray, kind: np.ndarray) -> Move:
    """Let two stops change places that are alike, each staying as it lies."""
    inner, before, after = way[1:-1], way[:-2], way[2:]
    here = cost[before, inner] + cost[inner, after]
    there = cost[before[:, None], inner[None]] + cost[inner[None], after[:, None]]  # the other one at this place
    saved = there + there.T - here[:, None] - here[None]
    place = np.arange(len(inner))
    saved = np.where((place[:, None] + 1 < place[None]) & (kind[:, None] == kind[None]), saved, np.inf)
    first, second = np.unravel_index(int(saved.argmin()), saved.shape)
    if not saved[first, second] < 0:
        return _NOTHING
    swapped = inner.tolist()
    swapped[first], swapped[second] = swapped[second], swapped[first]
    return float(saved[first, second]), swapped
