"""Runs: the boards of a bench in the order in which they go through, and what is changed before each of them."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from hashlib import sha256

from boards.figures import Worked
from boards.places import Pieces, change_words, machine_for
from boards.setups import Setup, setup_at
from geometry.changeover import Machine, Order, keep_order, order_runs
from shop.models import Shop


def due_on(board: Worked) -> date | None:
    """Give the day that a board is due."""
    return board.blank.build.due_on if board.blank.build else None


def is_soon(due: date | None, today: date, shop: Shop) -> bool:
    """Tell whether a board is due inside the shop's horizon, or was due already."""
    return due is not None and (due - today).days <= shop.horizon_days


def run_key(machine: Machine, pieces: Pieces) -> str:
    """Name a setup, whichever way round boards lie, as a form can carry it."""
    ways = sorted(sorted(way.items()) for way in (pieces, machine.turned(pieces)))
    return sha256(repr(ways[0]).encode()).hexdigest()[:16]


@dataclass(slots=True)
class Run:
    """Boards that go through on one setup, and the change before them.

    ``setup`` is what stands while they do. The boards numbered in ``turned`` lie the other way round: their head is at
    the jig's heel former. ``changes`` are sentences, one for each thing that is changed before the run, ``minutes``
    what that takes. ``soon`` are the numbers of those due inside the horizon. ``rounds``: how often the clamps go on.
    """

    key: str
    setup: Setup
    boards: list[Worked]
    turned: frozenset[str] = frozenset()
    changes: list[str] = field(default_factory=list)
    minutes: float = 0.0
    soon: list[str] = field(default_factory=list)
    pinned: bool = False
    rounds: int = 1

    @property
    def pieces(self) -> Pieces:
        """What stands on the machine, by place."""
        return self.setup.pieces

    @property
    def due_on(self) -> date | None:
        """The earliest day that a board of the run is due."""
        return min((day for board in self.boards if (day := due_on(board))), default=None)


@dataclass(slots=True)
class Queue:
    """The boards that wait at a bench, the earliest due first, with what each needs there."""

    stage: str
    shop: Shop
    today: date
    boards: list[Worked]
    machine: Machine = field(init=False)
    needs: list[Pieces] = field(init=False)

    def __post_init__(self) -> None:
        self.boards = sorted(self.boards, key=lambda board: (due_on(board) or date.max, board.blank.number))
        self.machine = machine_for(self.stage, self.shop)
        self.needs = [setup_at(self.stage, board, self.shop).pieces for board in self.boards]

    @property
    def soon(self) -> set[int]:
        """Which of them are due inside the horizon."""
        return {place for place, board in enumerate(self.boards) if is_soon(due_on(board), self.today, self.shop)}

    def only(self, numbers: Collection[str]) -> Queue:
        """Take some of them."""
        return Queue(self.stage, self.shop, self.today, [b for b in self.boards if b.blank.number in numbers])

    def least(self, now: Pieces, pinned: Mapping[Hashable, int] | None = None) -> Order:
        """Find the order that costs least, with what is due inside the horizon first."""
        return order_runs(self.needs, now, self.machine, urgent=self.soon, pinned=pinned)

    def keep_order(self, now: Pieces) -> Order:
        """Reckon what it costs to run the setups as the boards ask for them: by due date, as they stand in a queue."""
        return keep_order(self.needs, now, self.machine)

    def runs(self, order: Order, now: Pieces, pinned: Collection[str] = ()) -> list[Run]:
        """Put an order into words: boards in place of their numbers in the queue."""
        soon, style, runs = self.soon, self.shop.style, []
        for run in order.runs:
            boards = [self.boards[place] for place in run.boards]
            key = run_key(self.machine, run.pieces)
            turned = frozenset(self.boards[place].blank.number for place in run.turned)
            runs.append(
                Run(
                    key,
                    setup_at(self.stage, boards[0], self.shop, turned=boards[0].blank.number in turned),
                    boards,
                    turned,
                    change_words(self.stage, now, run.pieces, run.changed, style),
                    run.minutes,
                    [self.boards[place].blank.number for place in run.boards if place in soon],
                    key in pinned,
                    -(-len(boards) // self.shop.clamps) if self.stage == "gluing" else 1,
                )
            )
            now = run.pieces if self.machine.uses(run.pieces) else now
        return runs


def in_order_of(queue: Queue, order: Sequence[str]) -> Queue:
    """Take the boards of a queue in the order of their numbers given."""
    places = {number: place for place, number in enumerate(order)}
    taken = queue.only(places.keys())
    pairs = sorted(zip(taken.boards, taken.needs, strict=True), key=lambda pair: places[pair[0].blank.number])
    taken.boards, taken.needs = [board for board, _ in pairs], [need for _, need in pairs]
    return taken
