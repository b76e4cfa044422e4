"""When boards will be done: the shop played through many times over, with durations that vary as its own did."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from geometry.errors import GeometryError, Problem
from geometry.hours import WorkingHours

ENOUGH: Final = 10  # durations seen, from which on they are believed
SPREAD: Final = (0.75, 1.0, 1.5)  # of a duration that is only set: least, likeliest, most (common practice, no source)
AT_ONCE: Final = 1e-9  # minutes: what starts within them starts at the same moment


@dataclass(frozen=True, slots=True)
class Bench:
    """A bench: how many boards it takes at once (machines one, gluing as many as there are clamps).

    ``change`` is minutes from one setup to another: one figure for all, or a table of shape (setups + 1, setups) whose
    last row is for a bench where nothing known stands.
    """

    places: int
    change: float | np.ndarray = 0.0


@dataclass(frozen=True, slots=True)
class Step:
    """One stage of a board.

    ``setup`` is what has to stand on the bench: steps of one bench that have the same need no change between them.
    ``hold`` is how long, on the clock, it stays where it is after the work without a hand on it, as in its clamps;
    ``cure`` how long it lies elsewhere after that before it goes on or counts as done.
    """

    bench: int
    setup: int = 0
    hold: float = 0.0
    cure: float = 0.0


@dataclass(frozen=True, slots=True)
class Played:
    """What came out of playing the shop through; minutes on the clock.

    Attributes
    ----------
    finish : ndarray, shape (runs, boards)
        When each board was done; infinite where the working hours ran out first.
    waited_for_bench : ndarray, shape (runs, boards, benches)
        Minutes of work that a board stood before a bench because the bench was taken.
    waited_for_hands : ndarray, shape (runs, boards)
        Minutes of work that it stood because nobody was free.
    """

    finish: np.ndarray
    waited_for_bench: np.ndarray
    waited_for_hands: np.ndarray


def draw_minutes(
    seen: Sequence[float], otherwise: float, size: tuple[int, ...], random: np.random.Generator
) -> np.ndarray:
    """Draw durations as they have been seen, or around a set one while there are not ten.

    Parameters
    ----------
    seen : sequence of float
        Minutes that the shop took.
    otherwise : float
        Minutes by its settings.
    size : tuple of int
        Shape of what is drawn.
    random : numpy.random.Generator
        Where the chance comes from.

    Returns
    -------
    ndarray of shape ``size``
        Resampled with replacement (Efron's bootstrap, Ann. Statist. 7, 1979), or from a triangle about ``otherwise``.
    """
    if len(seen) >= ENOUGH:
        return random.choice(np.asarray(seen, float), size)
    return otherwise * random.triangular(*SPREAD, size)


def play(
    steps: Sequence[Sequence[Step]],
    minutes: np.ndarray,
    ready: np.ndarray,
    *,
    benches: Sequence[Bench],
    hands: int,
    hours: WorkingHours,
    standing: Sequence[int] | None = None,
    ranks: np.ndarray | None = None,
) -> Played:
    """Play the shop through: whatever can start first does, and of two the one that is earlier in the queue.

    Parameters
    ----------
    steps : sequence of sequences of Step
        What each board has still to go through, the boards in the order of the queue.
    minutes : ndarray, shape (runs, boards, most steps)
        How long each step takes in each run, minutes of work by one pair of hands.
    ready : ndarray, shape (boards,) or (runs, boards)
        From when on each board may be worked on, minutes on the clock.
    benches : sequence of Bench
        The benches that steps speak of.
    hands : int
        How many people work.
    hours : WorkingHours
        When they work.
    standing : sequence of int, optional
        The setup that stands on each bench to begin with; -1 where it is not known.
    ranks : ndarray, shape (boards, most steps), optional
        Which board goes first at each step, the least before the others; otherwise the order of the queue holds.

    Raises
    ------
    GeometryError
        If nobody works, or a bench has no place.

    Notes
    -----
    A non-delay schedule (Baker, *Introduction to Sequencing and Scheduling*, 1974): no bench and no hand is idle while
    a board could be worked on. All runs go forward together, a step at a time; a board that needs no change of setup
    goes before one that does when both could start at the same moment.
    """
    if hands < 1 or any(bench.places < 1 for bench in benches):
        raise GeometryError(Problem("hands", "Somebody has to work, and every bench needs a place for one board."))
    runs, boards = minutes.shape[:2]
    state = _State(steps, minutes, ready, benches, hands, hours)
    if standing is not None:
        state.stands[:] = standing
    if ranks is not None:
        state.ranks[:, : ranks.shape[1]] = ranks
    for _ in range(sum(len(each) for each in steps)):
        state.start_the_next(np.arange(runs))
    return Played(state.finish, state.waited_for_bench, state.waited_for_hands)


class _State:
    """All runs at a moment of their own: minutes of work everywhere but in `finish`."""

    def __init__(
        self,
        steps: Sequence[Sequence[Step]],
        minutes: np.ndarray,
        ready: np.ndarray,
        benches: Sequence[Bench],
        hands: int,
        hours: WorkingHours,
    ) -> None:
        runs, boards = minutes.shape[:2]
        most = max((len(each) for each in steps), default=0)
        table = np.zeros((boards, most + 1, 4))  # bench, setup, hold, cure; one more row for those that are done
        for board, each in enumerate(steps):
            for place, step in enumerate(each):
                table[board, place] = step.bench, step.setup, step.hold, step.cure
        self.bench, self.setup = table[:, :, 0].astype(np.intp), table[:, :, 1].astype(np.intp)
        self.hold, self.cure = table[:, :, 2], table[:, :, 3]
        self.left = np.tile([len(each) for each in steps], (runs, 1))
        self.at = np.zeros((runs, boards), np.intp)
        self.minutes, self.hours = minutes, hours
        ready = np.broadcast_to(np.asarray(ready, float), (runs, boards))
        self.ready = hours.to_work(ready)
        self.finish = np.where(self.left == 0, ready, np.inf)
        self.change = _changes(benches, int(self.setup.max(initial=0)) + 1)
        # A bench with fewer places than the largest has the others taken for ever.
        widest = max(bench.places for bench in benches)
        free = [[0.0] * bench.places + [np.inf] * (widest - bench.places) for bench in benches]
        self.place_free = np.tile(np.array(free), (runs, 1, 1))
        self.hand_free = np.zeros((runs, hands))
        self.stands = np.full((runs, len(benches)), -1)
        self.waited_for_bench = np.zeros((runs, boards, len(benches)))
        self.waited_for_hands = np.zeros((runs, boards))
        self.ranks = np.tile(np.arange(float(boards))[:, None], most + 1)
        # At which bench each board is next, and from when on; those that are done never are.
        self.next_bench = np.tile(self.bench[:, 0], (runs, 1))
        self.ready[self.left == 0] = np.inf

    def start_the_next(self, run: np.ndarray) -> None:
        """Start, in every run, the step that can start first, and put down when all that it takes is free again."""
        place_free, hand_free = self.place_free.min(axis=2), self.hand_free.min(axis=1)
        start = np.maximum(self.ready, np.take_along_axis(place_free, self.next_bench, axis=1))
        np.maximum(start, hand_free[:, None], out=start)
        board = self._whose_turn(start <= start.min(axis=1, keepdims=True) + AT_ONCE)

        bench, step = self.next_bench[run, board], self.at[run, board]
        begin, setup = start[run, board], self.setup[board, step]
        waited, by_bench = begin - self.ready[run, board], place_free[run, bench] >= hand_free
        self.waited_for_bench[run, board, bench] += np.where(by_bench, waited, 0.0)
        self.waited_for_hands[run, board] += np.where(by_bench, 0.0, waited)

        end = begin + self.minutes[run, board, step] + self.change[bench, self.stands[run, bench], setup]
        self.stands[run, bench] = setup
        self.hand_free[run, self.hand_free.argmin(axis=1)] = end
        hold, cure = self.hold[board, step], self.cure[board, step]
        off_the_clock = self.hours.to_clock(end) + hold
        off = np.where(hold > 0, self.hours.to_work(off_the_clock), end)
        self.place_free[run, bench, self.place_free[run, bench].argmin(axis=1)] = off
        ready = np.where(cure > 0, self.hours.to_work(off_the_clock + cure), off)
        self.at[run, board] += 1
        self.left[run, board] -= 1
        done = self.left[run, board] == 0
        self.finish[run[done], board[done]] = (off_the_clock + cure)[done]
        self.ready[run, board] = np.where(done, np.inf, ready)
        self.next_bench[run, board] = self.bench[board, step + 1]

    def _whose_turn(self, first: np.ndarray) -> np.ndarray:
        """Choose, in every run, among the boards that could start first: one that needs no change, the least rank."""
        runs, boards = np.nonzero(first)
        step, bench = self.at[runs, boards], self.next_bench[runs, boards]
        changes = self.change[bench, self.stands[runs, bench], self.setup[boards, step]] > 0
        turn = np.full(first.shape, np.inf)
        turn[runs, boards] = self.ranks[boards, step] + (self.ranks.max() + 1) * changes
        return turn.argmin(axis=1)


def _changes(benches: Sequence[Bench], setups: int) -> np.ndarray:
    """Put the minutes of all changes into one table, shape (benches, setups + 1, setups)."""
    table = np.zeros((len(benches), setups + 1, setups))
    for place, bench in enumerate(benches):
        if np.ndim(bench.change):
            known = np.asarray(bench.change)
            table[place, : known.shape[1], : known.shape[1]] = known[:-1]
            table[place, -1, : known.shape[1]] = known[-1]
        else:
            table[place] = bench.change
            np.fill_diagonal(table[place], 0.0)
    return table
