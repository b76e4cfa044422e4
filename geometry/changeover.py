"""In which order to run setups so that changing from one to the next costs least.

A machine has places: a former at either end, a riser, a saw's depth. A board needs a piece in each of them; what stands
there already need not be changed. Pieces are told apart by their values alone.
"""

from __future__ import annotations

from collections.abc import Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from geometry.paths import exact_path, fixed_path, least_cost, near_path, path_cost

CLOSE: Final = 1e-9  # minutes that are as good as none
MOST_PROVED: Final = 12  # distinct setups; up to here the order is proved to be the cheapest by trying them all

Pieces = Mapping[str, Hashable]
"""Which piece stands, or is needed, in each place. A place that is not named holds nothing known."""


@dataclass(frozen=True, slots=True)
class Machine:
    """The places of a machine.

    Attributes
    ----------
    minutes : mapping
        What changing the piece in each place takes, in the order in which places are spoken of.
    swapped : pair of str, optional
        Two places whose pieces stand the other way about for a board that lies the other way round.
    anew : mapping
        Places that have to be set anew, once, whenever the piece in one of those named beside them is changed.
    """

    minutes: Mapping[str, float]
    swapped: tuple[str, str] | None = None
    anew: Mapping[str, Collection[str]] = field(default_factory=dict)

    @property
    def ways(self) -> int:
        """In how many ways a board can lie."""
        return 2 if self.swapped else 1

    def turned(self, pieces: Pieces) -> Pieces:
        """Give what a board needs that lies the other way round."""
        if self.swapped is None or not set(self.swapped) <= pieces.keys():
            return pieces
        one, other = self.swapped
        return {**pieces, one: pieces[other], other: pieces[one]}

    def setup(self, need: Pieces) -> Hashable:
        """Give what two boards have in common that can share a setup, whichever way round they lie."""
        return frozenset((frozenset(need.items()), frozenset(self.turned(need).items())))

    def uses(self, need: Pieces) -> bool:
        """Tell whether a board needs the machine at all: one that names none of its places goes past it.

        Raises
        ------
        ValueError
            If it names only some.
        """
        named = need.keys() & self.minutes.keys()
        if named and len(named) < len(self.minutes):
            raise ValueError(f"A need names every place or none, not only {', '.join(sorted(named))}.")
        return bool(named)

    def changed(self, now: Pieces, needed: Pieces) -> tuple[str, ...]:
        """Name the places where something has to be changed or set anew."""
        if not self.uses(needed):
            return ()
        unlike = {place for place in self.minutes if place not in now or now[place] != needed[place]}
        again = {place for place, after in self.anew.items() if unlike.intersection(after)}
        return tuple(place for place in self.minutes if place in unlike | again)

    def between(self, now: Pieces, needed: Pieces) -> float:
        """Add up the minutes from what stands to what is needed."""
        return float(sum(self.minutes[place] for place in self.changed(now, needed)))

    def costs(self, now: Sequence[Pieces], needed: Sequence[Pieces]) -> np.ndarray:
        """Give the minutes from each of some setups to each of others, shape (now, needed)."""
        unlike = {}
        for place in self.minutes:
            codes: dict[Hashable, int] = {}
            to = np.array([codes.setdefault(pieces[place], len(codes)) for pieces in needed], int)
            at = np.array([codes.setdefault(p[place], len(codes)) if place in p else -1 for p in now], int)
            unlike[place] = at[:, None] != to[None]
        total = np.zeros((len(now), len(needed)))
        for place, takes in self.minutes.items():
            total += takes * np.any([unlike[each] for each in (place, *self.anew.get(place, ()))], axis=0)
        return total


@dataclass(frozen=True, slots=True)
class Run:
    """Boards that go through on one setup, and the change before them.

    ``boards`` are places in the queue that was given, in its order; those in ``turned`` lie the other way round.
    ``changed`` names the places of the machine where something is changed before them.
    """

    pieces: Pieces
    boards: tuple[int, ...]
    turned: tuple[int, ...]
    changed: tuple[str, ...]
    minutes: float


@dataclass(frozen=True, slots=True)
class Order:
    """The runs, one after another; ``proved`` tells whether it is certain that no order costs less."""

    runs: tuple[Run, ...]
    minutes: float
    proved: bool


def order_runs(
    needs: Sequence[Pieces],
    now: Pieces,
    machine: Machine,
    *,
    urgent: Collection[int] = (),
    pinned: Mapping[Hashable, int] | None = None,
) -> Order:
    """Find the order that costs least from what stands now.

    Boards that need the same run together; a board may lie either way round where the machine has places that swap.

    Parameters
    ----------
    needs : sequence of mapping
        What each board in the queue needs.
    now : mapping
        What stands on the machine.
    machine : Machine
        Its places, and what changing them takes.
    urgent : collection of int
        Boards that come first: their setups go before those without any. A board that shares an urgent setup goes
        through with it.
    pinned : mapping, optional
        Setups (see `Machine.setup`) that a person wants at a place in the order, counted from 0. They go there,
        urgent or not; a place beyond the end is as near to it as can be. Setups that no board needs are passed over.

    Returns
    -------
    Order
        Proved up to 12 distinct setups; up to there, where two runs could as well come first, the one that is
        earlier in the queue does. Beyond, an order that no single move betters, proved only where no order could
        cost less because every setup is entered from the nearest there is.
    """
    queue = _queued(needs, machine)
    if not queue:
        return Order((), 0.0, True)
    stops = list(queue)
    rank = [not any(board in urgent for board in queue[stop]) for stop in stops]
    allowed = _rules(stops, rank, pinned or {})
    uses = [machine.uses(needs[queue[stop][0]]) for stop in stops]
    # Boards that go past the machine cost nothing anywhere: each goes to the first place that it may have.
    aside: dict[int, int] = {}
    for stop in (stop for stop, used in enumerate(uses) if not used):
        aside[next(place for place in np.flatnonzero(allowed[:, stop]).tolist() if place not in aside)] = stop
    places = [place for place in range(len(stops)) if place not in aside]
    rest = [stop for stop, used in enumerate(uses) if used]
    order, proved = dict(aside), True
    if rest:
        start, step = _matrices([needs[queue[stops[stop]][0]] for stop in rest], now, machine)
        rules = allowed[np.ix_(places, rest)]
        small = len(rest) <= MOST_PROVED
        path = (exact_path if small else near_path)(start, step, machine.ways, rules)
        proved = small or path_cost(start, step, path) <= least_cost(start, step, machine.ways) + CLOSE
        order |= {place: rest[state // machine.ways] for place, state in zip(places, path, strict=True)}
    return _laid_out([queue[stops[order[place]]] for place in range(len(stops))], needs, now, machine, proved)


def keep_order(needs: Sequence[Pieces], now: Pieces, machine: Machine) -> Order:
    """Reckon an order that is given: setups run in the order in which the queue first asks for them.

    Only which way round boards lie is left to find. Parameters are those of `order_runs`.
    """
    return _laid_out(list(_queued(needs, machine).values()), needs, now, machine, proved=False)


def _queued(needs: Sequence[Pieces], machine: Machine) -> dict[Hashable, list[int]]:
    queue: dict[Hashable, list[int]] = {}
    for board, need in enumerate(needs):
        queue.setdefault(machine.setup(need), []).append(board)
    return queue


def _matrices(setups: Sequence[Pieces], now: Pieces, machine: Machine) -> tuple[np.ndarray, np.ndarray]:
    """Give the costs of beginning and of going on, with the ways of a setup beside one another."""
    states = [way for need in setups for way in (need, machine.turned(need))[: machine.ways]]
    return machine.costs([now], states)[0], machine.costs(states, states)


def _rules(stops: Sequence[Hashable], rank: Sequence[bool], pinned: Mapping[Hashable, int]) -> np.ndarray:
    """Say which setup may stand at which place: the pinned at their own, before the rest the urgent."""
    count = len(stops)
    wanted = sorted((place, stop) for stop, key in enumerate(stops) if (place := pinned.get(key)) is not None)
    held: dict[int, int] = {}
    after = -1
    for behind, (place, stop) in zip(range(len(wanted) - 1, -1, -1), wanted, strict=True):
        after = max(after + 1, min(place, count - 1 - behind))
        held[after] = stop
    free = [stop for stop in range(count) if stop not in held.values()]
    allowed = np.zeros((count, count), bool)
    for place, stop in held.items():
        allowed[place, stop] = True
    places = [place for place in range(count) if place not in held]
    for group in (False, True):
        these = [stop for stop in free if rank[stop] is group]
        allowed[np.ix_(places[: len(these)], these)] = True
        places = places[len(these) :]
    return allowed


def _laid_out(
    runs: Sequence[Sequence[int]], needs: Sequence[Pieces], now: Pieces, machine: Machine, proved: bool
) -> Order:
    """Lay the boards of runs in a given order the way round that costs least."""
    used = [place for place, boards in enumerate(runs) if machine.uses(needs[boards[0]])]
    pieces = [needs[boards[0]] for boards in runs]
    if used:
        setups = [pieces[place] for place in used]
        path = fixed_path(*_matrices(setups, now, machine), range(len(used)), machine.ways)
        for place, state in zip(used, path, strict=True):
            pieces[place] = machine.turned(pieces[place]) if state % machine.ways else pieces[place]
    laid = []
    for boards, stands in zip(runs, pieces, strict=True):
        turned = tuple(board for board in boards if needs[board] != stands)
        laid.append(Run(stands, tuple(boards), turned, machine.changed(now, stands), machine.between(now, stands)))
        now = stands if machine.uses(stands) else now
    return Order(tuple(laid), float(sum(run.minutes for run in laid)), proved)
