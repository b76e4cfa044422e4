"""In which order to run setups so that changing from one to the next costs least."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

MOST_PROVED: Final = 12  # distinct setups; up to here the order is proved to be the cheapest


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands on the machines, or what a board needs there; None is a place where nothing known stands."""

    head_former: str | None
    heel_former: str | None
    riser: bool | None
    cutter: str | None

    def turned(self) -> Standing:
        """Give the same for a board that lies the other way round."""
        return replace(self, head_former=self.heel_former, heel_former=self.head_former)


@dataclass(frozen=True, slots=True)
class Minutes:
    """What changing one piece takes."""

    former: float
    riser: float
    cutter: float

    def between(self, now: Standing, needed: Standing) -> float:
        """Add up the minutes from what stands to what is needed."""
        return (
            self.former * (now.head_former != needed.head_former)
            + self.former * (now.heel_former != needed.heel_former)
            + self.riser * (now.riser != needed.riser)
            + self.cutter * (now.cutter != needed.cutter)
        )


@dataclass(frozen=True, slots=True)
class Run:
    """Boards that go through on one setup, and the minutes of the change before them.

    ``boards`` are places in the queue that was given, in its order; those in ``turned`` lie the other way round.
    """

    setup: Standing
    boards: tuple[int, ...]
    turned: tuple[int, ...]
    minutes: float


@dataclass(frozen=True, slots=True)
class Order:
    """The runs, one after another; ``proved`` tells whether it is certain that no order costs less."""

    runs: tuple[Run, ...]
    minutes: float
    proved: bool


def order_runs(needs: Sequence[Standing], now: Standing, minutes: Minutes) -> Order:
    """Find the order that costs least from what stands now.

    Boards that need the same run together; a board may lie either way round.

    Parameters
    ----------
    needs : sequence of Standing
        What each board in the queue needs.
    now : Standing
        What stands on the machines.
    minutes : Minutes
        What changing a piece takes.

    Returns
    -------
    Order
        Proved up to 12 distinct setups; up to there, where two runs could as well come first,
        the one that is earlier in the queue does. Beyond, an order that no single move betters.
    """
    queued: dict[Standing, list[int]] = {}
    for place, need in enumerate(needs):
        queued.setdefault(need.turned() if need.turned() in queued else need, []).append(place)
    if not queued:
        return Order((), 0.0, True)
    states = [state for setup in queued for state in (setup, setup.turned())]
    start = np.array([minutes.between(now, state) for state in states], float)
    step = np.array([[minutes.between(one, other) for other in states] for one in states], float)
    proved = len(queued) <= MOST_PROVED
    path = (exact_path if proved else near_path)(start, step, 2)
    boards = list(queued.values())
    runs = []
    for place, state in enumerate(path):
        here = boards[state // 2]
        turned = tuple(board for board in here if needs[board] != states[state])
        cost = step[path[place - 1], state] if place else start[state]
        runs.append(Run(states[state], tuple(here), turned, float(cost)))
    return Order(tuple(runs), float(sum(run.minutes for run in runs)), proved)


def exact_path(start: np.ndarray, step: np.ndarray, ways: int = 1) -> list[int]:
    """Find the cheapest open path over all stops, each taken in one of several ways, by subsets.

    Parameters
    ----------
    start : ndarray, shape (stops * ways,)
        Cost of beginning in each state; the states of a stop stand together.
    step : ndarray, shape (stops * ways, stops * ways)
        Cost from one state to the next.
    ways : int
        In how many ways a stop can be taken.

    Returns
    -------
    list of int
        One state for each stop, in order.

    Notes
    -----
    Dynamic programming over subsets (Held & Karp, J. SIAM 10, 1962), a layer of equally large ones at a time. It
    holds ``2^stops`` rows, so it is for 16 stops or so at most.
    """
    stops = len(start) // ways
    rest = np.full((1 << stops, stops * ways), np.inf)  # the cheapest way over a subset that begins in a state of it
    sizes = np.array([subset.bit_count() for subset in range(1 << stops)])
    for stop in range(stops):
        rest[1 << stop, stop * ways : (stop + 1) * ways] = 0
    for size in range(1, stops):
        subsets = np.flatnonzero(sizes == size)
        reached = (rest[subsets][:, None, :] + step).min(axis=2)
        for stop in range(stops):
            free = subsets >> stop & 1 == 0
            states = slice(stop * ways, (stop + 1) * ways)
            rest[subsets[free] | 1 << stop, states] = reached[free, states]
    left = (1 << stops) - 1
    path = [int((start + rest[left]).argmin())]
    while left := left ^ 1 << path[-1] // ways:
        path.append(int((step[path[-1]] + rest[left]).argmin()))
    return path


def near_path(start: np.ndarray, step: np.ndarray, ways: int = 1) -> list[int]:
    """Find a cheap open path over many stops: from the nearest next one each time, bettered until nothing helps.

    Parameters and result are those of `exact_path`. A move takes a stop out and puts it in elsewhere, in any of its
    ways, or turns a stretch of the path round.
    """
    path = min((_nearest(first, step, ways) for first in range(len(start))), key=lambda p: path_cost(start, step, p))
    cost = path_cost(start, step, path)
    while True:
        tried = np.array(_moves(path, ways))
        costs = start[tried[:, 0]] + step[tried[:, :-1], tried[:, 1:]].sum(axis=1)
        best = costs.argmin()
        if costs[best] >= cost - 1e-9:
            return path
        path, cost = tried[best].tolist(), costs[best]


def path_cost(start: np.ndarray, step: np.ndarray, path: Sequence[int]) -> float:
    """Add up what a path costs."""
    return float(start[path[0]] + step[path[:-1], path[1:]].sum())


def _nearest(first: int, step: np.ndarray, ways: int) -> list[int]:
    """Begin somewhere, and go to whatever is nearest each time."""
    path, gone = [first], np.zeros(len(step), bool)
    while True:
        stop = path[-1] // ways * ways
        gone[stop : stop + ways] = True
        if gone.all():
            return path
        path.append(int(np.where(gone, np.inf, step[path[-1]]).argmin()))


def _moves(path: list[int], ways: int) -> list[list[int]]:
    """List the paths that are one move away, and the path itself."""
    found = [path]
    for place, state in enumerate(path):
        rest = path[:place] + path[place + 1 :]
        stop = state // ways * ways
        found += [[*rest[:to], other, *rest[to:]] for to in range(len(path)) for other in range(stop, stop + ways)]
        found += [[*path[:place], *path[place:end][::-1], *path[end:]] for end in range(place + 2, len(path) + 1)]
    return found
