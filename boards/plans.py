"""The day at a bench: the order in which its boards go through, why, and whether the plan of it still holds.

`day_at(stage, shop, today)` is all that a page needs. It reads and never writes. It gives a `Day`:

``day.runs``
    The runs in their order (`boards.ordering.Run`): ``run.setup`` is what stands while its boards go through (its
    ``words``, ``settings`` and ``pieces``), ``run.changes`` are sentences of what to change before it, ``run.minutes``
    what that takes, ``run.boards`` the boards, ``run.turned`` the numbers of those that lie the other way round.
    Where a board is turned, the nut counts from the jig's other former: ``span - nut_at`` along the bed.
``day.since``
    Runs of boards that the plan does not know: they came since, or need something else by now. They are shown after
    the plan. ``day.all_runs`` is both.
``day.without``
    Boards that cannot be worked out.
``day.bench``
    The bench (`boards.models.Bench`): ``version`` is what forms carry as ``seen``, ``stands_since`` and ``stands_by``
    say who set it up. ``day.now`` is what stands, by place; ``day.stands`` says it in words. ``day.is_set_up_for(run)``
    tells whether a run can go through on it. To write down that it is set up:
    ``day.bench.stand(hand, seen, run.pieces, shop)``, with the pieces of the run, which may be turned.
``day.time``
    Minutes of the runs (`boards.times.RunTime`), None where nothing is known of them.
``day.stale``
    Sentences that say why the plan does not hold any more; empty while it does, and before anybody has planned.

Fragments: ``boards/_plan.html`` and ``boards/_run.html`` take ``day_plan`` (the Day), ``stage``, ``day`` (the
date) and ``in_hand`` (a number).
"""

from __future__ import annotations

from collections.abc import Hashable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from boards.figures import Worked, worked_many
from boards.models import Bench, Blank
from boards.models.bench import JIG_STAGE
from boards.ordering import Queue, Run, due_on, in_order_of, run_key
from boards.places import Pieces, machine_for, name_of, standing_words
from boards.setups import setup_at
from boards.stale import why_stale
from boards.times import RunTime, run_time
from geometry.changeover import CLOSE, MOST_PROVED
from shop.models import Hand, Shop


@dataclass(slots=True)
class Day:
    """What is to be done at a bench, in which order, and why. ``planned``: somebody has kept this order.

    ``minutes`` are those of changing over in the order of the runs, ``by_due_date`` in the order of due dates, ``best``
    in the one that costs least.
    """

    stage: str
    shop: Shop
    today: date
    bench: Bench
    now: Pieces
    queue: Queue
    without: list[Worked]
    planned: bool = False
    runs: list[Run] = field(default_factory=list)
    since: list[Run] = field(default_factory=list)
    unlike: dict[str, tuple[str, ...]] = field(default_factory=dict)
    minutes: float = 0.0
    by_due_date: float = 0.0
    best: float = 0.0
    proved: bool = False
    stale: list[str] = field(default_factory=list)
    time: RunTime | None = None

    @property
    def moved(self) -> bool:
        """Tell whether somebody has put the runs into another order by hand."""
        return self.planned and bool(self.bench.plan["moved"])

    @property
    def pinned(self) -> bool:
        """Tell whether a run is pinned to where it is."""
        return any(run.pinned for run in self.runs)

    @property
    def all_runs(self) -> list[Run]:
        """All runs, those behind the plan at the end."""
        return [*self.runs, *self.since]

    @property
    def boards(self) -> list[tuple[Run, Worked]]:
        """All boards in their order, each with its run."""
        return [(run, board) for run in self.all_runs for board in run.boards]

    @property
    def saved(self) -> float:
        """Minutes that the order saves against going by due date; negative where it costs more."""
        return self.by_due_date - self.minutes

    @property
    def lost(self) -> float:
        """Minutes that the order costs over going by due date."""
        return -self.saved

    @property
    def spared(self) -> float:
        """Minutes that the best order would spare."""
        return max(0.0, self.minutes - self.best)

    @property
    def soon(self) -> list[str]:
        """Numbers of the boards that are due inside the horizon."""
        return [number for run in self.all_runs for number in run.soon]

    @property
    def stands(self) -> str:
        """Say what stands on the machine now."""
        return standing_words(self.stage, self.now, self.shop.style)

    @property
    def too_many(self) -> bool:
        """Tell whether there are more setups than an order can be proved for by trying them all."""
        return len(self.runs) > MOST_PROVED

    def is_set_up_for(self, run: Run) -> bool:
        """Tell whether a run can go through on what stands."""
        return not self.queue.machine.changed(self.now, run.pieces)


def day_at(stage: str, shop: Shop, today: date) -> Day:
    """Work out the day at a bench: the plan as far as it goes, or else the order that costs least from now."""
    boards = worked_many(Blank.objects.ready_for(stage).with_spec(), shop)
    bench = Bench.at(stage)
    queue = Queue(stage, shop, today, [board for board in boards if board.result])
    without = [board for board in boards if not board.result]
    day = Day(stage, shop, today, bench, bench.standing(shop), queue, without)
    left = _left(day)
    if left:
        _by_plan(day, left)
    else:
        order = queue.least(day.now)
        day.runs, day.minutes, day.proved = queue.runs(order, day.now), order.minutes, order.proved
        day.best = order.minutes
        day.by_due_date = queue.keep_order(day.now).minutes
    day.time = run_time(stage, day.all_runs, shop)
    return day


def _left(day: Day) -> list[str]:
    """List the boards of the plan that still wait and still need what it says, in its order; note those unlike it."""
    queue, left = day.queue, []
    needs = {board.blank.number: need for board, need in zip(queue.boards, queue.needs, strict=True)}
    for run in (day.bench.plan or {}).get("runs", ()):
        for number in run["boards"]:
            if number not in needs:
                continue
            if run_key(queue.machine, needs[number]) == run["key"]:
                left.append(number)
            else:
                day.unlike[number] = queue.machine.changed(run["pieces"], needs[number])
    return left


def _by_plan(day: Day, left: list[str]) -> None:
    """Go by the plan: what is left of it, and behind it what it does not know."""
    plan, queue, day.planned = day.bench.plan, day.queue, True
    planned = in_order_of(queue, left)
    order = planned.keep_order(day.now)
    pinned = {run["key"] for run in plan["runs"] if run["pinned"]}
    day.runs, day.minutes = planned.runs(order, day.now, pinned), order.minutes
    day.by_due_date = queue.only(left).keep_order(day.now).minutes
    after = next((run.pieces for run in reversed(day.runs) if queue.machine.uses(run.pieces)), day.now)
    rest = queue.only({board.blank.number for board in queue.boards} - set(left))
    day.since = rest.runs(rest.least(after), after)
    day.stale = why_stale(
        plan,
        day.runs,
        came=[b.blank.number for run in day.since for b in run.boards if b.blank.number not in day.unlike],
        unlike=day.unlike,
        now=day.now,
        queue=queue,
    )
    # Of what is left, and by what stands and is set now: boards may have left the plan in its midst.
    best = planned.least(
        day.now, {planned.machine.setup(run.pieces): at for at, run in enumerate(day.runs) if run.pinned}
    )
    day.best, day.proved = best.minutes, best.proved and not day.stale and abs(best.minutes - day.minutes) < CLOSE


def fresh_plan(day: Day) -> dict[str, Any]:
    """Plan anew from what stands now. Runs that are pinned stay where they are."""
    pinned: dict[Hashable, int] = {}
    keys, place = set(), 0
    there = {run.key for run in day.runs}
    for run in day.bench.plan["runs"] if day.planned else ():
        if run["pinned"]:
            pinned[day.queue.machine.setup(run["pieces"])] = place
            keys.add(run["key"])
        place += run["key"] in there
    order = day.queue.least(day.now, pinned)
    return as_plan(day, day.queue.runs(order, day.now, keys))


def as_plan(day: Day, runs: list[Run]) -> dict[str, Any]:
    """Write runs down as a bench keeps them."""
    boards = [board for run in runs for board in run.boards]
    return {
        "day": day.today.isoformat(),
        "now": dict(day.now),
        "runs": [
            {
                "key": run.key,
                "pieces": dict(run.pieces),
                "boards": [board.blank.number for board in run.boards],
                "pinned": run.pinned,
            }
            for run in runs
        ],
        "due": {board.blank.number: due.isoformat() for board in boards if (due := due_on(board))},
        "moved": False,
    }


def went_through(hand: Hand, stage: str, board: Worked, shop: Shop) -> None:
    """Write down what stands at a bench, as it follows from a board that was finished there."""
    bench, machine = Bench.at(stage), machine_for(stage, shop)
    need, now = setup_at(stage, board, shop).pieces, bench.standing(shop)
    unknown = stage == JIG_STAGE and shop.jig_id is not None and not name_of(need.get("head_former", ""))
    if unknown or not machine.uses(need) or not all(machine.changed(now, way) for way in (need, machine.turned(need))):
        return
    planned = {run["key"]: run["pieces"] for run in (bench.plan or {}).get("runs", ())}
    bench.worked_on(hand, planned.get(run_key(machine, need), need), shop)
