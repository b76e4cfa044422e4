"""The day at a bench: the order in which its boards go through, why, and whether the plan of it still holds.

`day_at(stage, shop, today)` is all that a page needs. It reads and never writes. It gives a `Day`:

``day.runs``
    The runs in their order (`boards.ordering.Run`): ``run.setup`` is what stands while its boards go through (its
    ``words``, ``settings`` and ``pieces``), ``run.changes`` are sentences of what to change before it, ``run.minutes``
    what that takes, ``run.boards`` the boards, ``run.turned`` the numbers of those that lie the other way round.
    Where a board is turned, the nut counts from the jig's other former: ``span - nut_at`` along the bed.
``day.since``
    Runs of boards that the plan does not know: they came since, or need something else by now. Show them after the
    plan. ``day.all_runs`` is both.
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

Fragments: ``boards/_plan.html`` and ``boards/_run.html`` take ``day_plan`` (the Day), ``stage``, ``tap``, ``day`` (the
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
from boards.ordering import Queue, Run, due_on, in_order_of, is_soon, run_key
from boards.places import PLACES, Pieces, machine_for, name_of, standing_words
from boards.setups import setup_of
from boards.times import RunTime, run_time
from geometry.changeover import MOST_PROVED
from shop.models import Hand, Shop


@dataclass(slots=True)
class Day:
    """What is to be done at a bench, in which order, and why."""

    stage: str
    shop: Shop
    today: date
    bench: Bench
    now: Pieces
    queue: Queue
    runs: list[Run] = field(default_factory=list)
    since: list[Run] = field(default_factory=list)
    without: list[Worked] = field(default_factory=list)
    minutes: float = 0.0
    by_due_date: float = 0.0
    proved: bool = False
    stale: list[str] = field(default_factory=list)
    time: RunTime | None = None

    @property
    def planned(self) -> bool:
        """Tell whether this is a plan that somebody has kept, or the order as it comes out now."""
        return bool(self.runs) and has_plan(self.bench, self.queue)

    @property
    def moved(self) -> bool:
        """Tell whether somebody has put the runs into another order by hand."""
        return self.planned and bool(self.bench.plan["moved"])

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
        """Minutes that the order saves against going by due date."""
        return self.by_due_date - self.minutes

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

    def run(self, key: str) -> Run | None:
        """Find a run by its key."""
        return next((run for run in self.all_runs if run.key == key), None)


def day_at(stage: str, shop: Shop, today: date) -> Day:
    """Work out the day at a bench: the plan as far as it goes, or else the order that costs least from now."""
    boards = worked_many(Blank.objects.ready_for(stage).with_spec(), shop)
    bench = Bench.at(stage)
    queue = Queue(stage, shop, today, [board for board in boards if board.result])
    day = Day(stage, shop, today, bench, bench.standing(shop), queue)
    day.without = [board for board in boards if not board.result]
    if has_plan(bench, queue):
        _by_plan(day)
    else:
        order = queue.least(day.now)
        day.runs, day.minutes, day.proved = queue.runs(order, day.now), order.minutes, order.proved
        day.by_due_date = queue.by_due_date(day.now).minutes
    day.time = run_time(stage, day.all_runs, shop)
    return day


def has_plan(bench: Bench, queue: Queue) -> bool:
    """Tell whether there is a plan with a board in it that still waits."""
    planned = {number for run in (bench.plan or {}).get("runs", ()) for number in run["boards"]}
    return any(board.blank.number in planned for board in queue.boards)


def fresh_plan(day: Day) -> dict[str, Any]:
    """Plan anew from what stands now. Runs that are pinned stay where they are."""
    pinned: dict[Hashable, int] = {}
    keys = set()
    if has_plan(day.bench, day.queue):
        place = 0
        there = {run.key for run in day.runs}
        for run in day.bench.plan["runs"]:
            if run["pinned"]:
                pinned[day.queue.machine.setup(run["pieces"])] = place
                keys.add(run["key"])
            place += run["key"] in there
    order = day.queue.least(day.now, pinned)
    return as_plan(day, day.queue.runs(order, day.now, keys), proved=order.proved)


def as_plan(day: Day, runs: list[Run], *, proved: bool) -> dict[str, Any]:
    """Write runs down as a bench keeps them."""
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
        "due": {board.blank.number: due.isoformat() for run in runs for board in run.boards if (due := due_on(board))},
        "proved": proved,
        "moved": False,
    }


def went_through(hand: Hand, stage: str, board: Worked, shop: Shop) -> None:
    """Write down what stands at a bench, as it follows from a board that was finished there."""
    bench, machine = Bench.at(stage), machine_for(stage, shop)
    need, now = setup_of(stage, board, shop.style).pieces, bench.standing(shop)
    unknown = stage == JIG_STAGE and shop.jig_id is not None and not name_of(need.get("head_former", ""))
    if unknown or not machine.uses(need) or not all(machine.changed(now, way) for way in (need, machine.turned(need))):
        return
    planned = {run["key"]: run["pieces"] for run in (bench.plan or {}).get("runs", ())}
    bench.worked_on(hand, planned.get(run_key(machine, need), need), shop)


def _by_plan(day: Day) -> None:
    """Go by the plan: what is left of it, and behind it what it does not know."""
    plan, queue = day.bench.plan, day.queue
    needs = {board.blank.number: need for board, need in zip(queue.boards, queue.needs, strict=True)}
    left, unlike = [], {}
    for run in plan["runs"]:
        for number in run["boards"]:
            if number not in needs:
                continue
            if run_key(queue.machine, needs[number]) == run["key"]:
                left.append(number)
            else:
                unlike[number] = queue.machine.changed(run["pieces"], needs[number])
    planned = in_order_of(queue, left)
    order = planned.keep_order(day.now)
    pinned = {run["key"] for run in plan["runs"] if run["pinned"]}
    day.runs, day.minutes = planned.runs(order, day.now, pinned), order.minutes
    day.by_due_date = queue.only(left).by_due_date(day.now).minutes
    rest = queue.only(needs.keys() - set(left))
    after = next((run.pieces for run in reversed(day.runs) if queue.machine.uses(run.pieces)), day.now)
    day.since = rest.runs(rest.least(after), after)
    day.stale = _stale(day, plan, unlike)
    day.proved = plan["proved"] and not plan["moved"] and not day.stale


def _stale(day: Day, plan: dict[str, Any], unlike: dict[str, tuple[str, ...]]) -> list[str]:
    """Say why a plan does not hold any more."""
    words = []
    came = sorted(board.blank.number for run in day.since for board in run.boards if board.blank.number not in unlike)
    if came:
        words.append(f"{came[0]} came since." if len(came) == 1 else f"{len(came)} boards came since.")
    for number, places in unlike.items():
        words.append(f"{number} now needs {_other(day.stage, places)}.")
    dues = {board.blank.number: due_on(board) for run in day.runs for board in run.boards}
    then = {number: date.fromisoformat(due) for number, due in plan["due"].items()}
    words += [f"The due date of {number} has moved." for number, due in dues.items() if due != then.get(number)]
    words += _pressing(day, dues, date.fromisoformat(plan["day"]), then)
    if not _stands_as_planned(day, plan):
        words.append("Something else stands there than the plan goes by.")
    return words


def _other(stage: str, places: tuple[str, ...]) -> str:
    formers = [place for place in places if place.endswith("_former")]
    if formers:
        return "other formers"
    names = {place.key: place.name for place in PLACES[stage]}
    said = [names[place] for place in places if place in names]
    return " and ".join(f"another {name}" for name in said) or "something else"


def _pressing(day: Day, dues: dict[str, date | None], planned_on: date, then: dict[str, date]) -> list[str]:
    """Name boards that have come inside the horizon since, where boards go before them that are not due soon."""
    words, waits = [], False
    for run in day.runs:
        if waits and not run.pinned:
            words += [
                f"{number} is due within {day.shop.horizon_days} days by now."
                for number in run.soon
                if dues[number] == then.get(number) and not is_soon(dues[number], planned_on, day.shop)
            ]
        waits = waits or not (run.soon or run.pinned)
    return words


def _stands_as_planned(day: Day, plan: dict[str, Any]) -> bool:
    """Tell whether what stands is what the plan began with, or what it has come to by now."""
    left = {run.key for run in day.runs}
    keys = [run["key"] for run in plan["runs"]]
    next_ = next((place for place, key in enumerate(keys) if key in left), 0)
    machine, ways = day.queue.machine, [plan["runs"][next_]["pieces"]]
    ways.append(plan["runs"][next_ - 1]["pieces"] if next_ else plan["now"])
    here = {place: day.now.get(place) for place in machine.minutes}
    return any(
        here == {place: way.get(place) for place in machine.minutes}
        for pieces in ways
        for way in (pieces, machine.turned(pieces))
    )
