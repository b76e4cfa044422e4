"""A shop that has worked for many years: the demo's, with a long past behind it, to see how lists bear it.

It is written in bulk, and yet the state of each blank follows from its log as everywhere; `manage.py check_log` proves
it. What a stage made of a board and what was read then is taken over from boards that went through by the usual way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from django.db import transaction

from boards import demo
from boards.models import Blank, Cut, Kind, LogEntry, State, receive_box
from boards.models.moisture import Way, note_readings
from boards.models.state import after
from shop.models import Build, BuildState, Pattern, Series, Shop, Species, User
from shop.stages import STAGES

YEARS = 20
AT_ONCE = 1000  # blanks that are written together
SCRAPPED, FOR_A_BUILD = 0.04, 0.4  # shares of the boards that are done with
WOODS = ("Ebony, African", "Rosewood, Indian", "Maple, hard", "Wenge", "Pau ferro", "Resin-bonded paper board")


class NoRoom(Exception):
    """These numbers do not go together; the message says why."""


@dataclass(frozen=True, slots=True)
class Size:
    """How large the shop is to be: blanks and log entries in all; of them, beside the demo's own, how many where."""

    blanks: int
    entries: int
    in_work: int
    in_rack: int
    waiting: int


@dataclass(slots=True)
class _Plan:
    """What is to become of one blank: its spec, how many stages, and what happens on the way besides."""

    days_ago: int
    spec: Pattern | Build | None = None
    stages: int = 0
    scrapped: bool = False
    besides: list[str] = field(default_factory=list)

    @property
    def entries(self) -> int:
        """How many entries its log has, but for what happens besides."""
        return 1 + (self.spec is not None) + self.stages + self.scrapped


@transaction.atomic
def fill(size: Size, *, now: datetime, random: Random) -> None:
    """Fill an empty shop. `now` is the moment that its days are counted from."""
    demo.load(now=now, random=random)
    past = _Past(now, random)
    over = size.blanks - Blank.objects.count() - size.in_work - size.in_rack
    if over < 0:
        raise NoRoom(f"{size.in_work} in work and {size.in_rack} in the rack leave no room in {size.blanks} blanks.")
    past.order(size.waiting)
    done_with = past.done_with(over)
    plans = [*done_with, *past.in_work(size.in_work), *past.in_rack(size.in_rack)]
    left = size.entries - LogEntry.objects.count() - sum(plan.entries for plan in plans)
    if left < 0:
        raise NoRoom(f"The logs of {size.blanks} blanks have {size.entries - left} entries at least.")
    past.let_happen_besides(done_with, left)
    past.write(plans)
    past.read_moisture()


class _Past:
    """The past of a shop, as it is made up."""

    def __init__(self, now: datetime, random: Random) -> None:
        self.random, self.shop = random, Shop.current()
        self.diary = demo.Diary(now, random, self.shop, list(User.objects.order_by("pk")))
        self.woods = list(Species.objects.filter(name__in=WOODS).order_by("name"))
        self.patterns = list(Pattern.objects.select_related("wire", "route", "species").order_by("name"))
        self.known = {pattern.pk: self._by_the_usual_way(pattern) for pattern in self.patterns}

    def _by_the_usual_way(self, pattern: Pattern) -> dict[str, LogEntry]:
        """Send one board through all stages, and keep what was written then."""
        (blank,) = receive_box(alike=self.piece(200), how_many=1, hand=self.diary.hand(200))
        self.diary.through(blank, pattern, *range(170, 169 - len(pattern.route.stages), -1))
        return {entry.stage: entry for entry in blank.log.filter(kind=Kind.FINISHED)}

    def piece(self, days_ago: int, number: str = "") -> Blank:
        """Make up a piece of wood that would do for any of the patterns."""
        random = self.random
        return Blank(
            number=number,
            species=random.choice(self.woods),
            cut=random.choice(Cut.values),
            length=Decimal(random.randint(528, 600)),
            width=Decimal(random.randint(70, 84)),
            thickness=Decimal(random.randint(78, 98)) / 10,
            received_on=self.diary.day(days_ago),
            supplier=random.choice(("Corvane Hardwoods", "Pellow Yard", "Duskrill Veneer")),
            lot=f"C-{days_ago // 30}",
            cost=Decimal(random.randint(90, 420)) / 10,
            place=f"{random.choice('ABCDEF')}{random.randint(1, 9)}",
        )

    # Builds

    def builds(self, patterns: Sequence[Pattern], due_in: Sequence[int], closed: bool) -> list[Build]:
        """Write builds down, one from each pattern."""
        builds = []
        numbers = Series.take(Series.Kind.BUILD, len(patterns), on=self.diary.day(0)) if patterns else []
        for pattern, days, number in zip(patterns, due_in, numbers, strict=True):
            build = Build(number=number, title=pattern.name, pattern=pattern, due_on=self.diary.day(-days))
            build.copy_spec(pattern)
            if closed:
                build.state, build.closed_on = BuildState.DELIVERED, build.due_on
            builds.append(build)
        return Build.objects.bulk_create(builds, batch_size=AT_ONCE)

    def order(self, how_many: int) -> None:
        """Write down builds that wait for a blank."""
        patterns = [self.random.choice(self.patterns) for _ in range(how_many)]
        self.builds(patterns, [self.random.randint(20, 200) for _ in patterns], closed=False)

    # Plans

    def done_with(self, how_many: int) -> list[_Plan]:
        """Plan boards that were glued or scrapped long ago, some for builds, the others for patterns."""
        plans = []
        for _ in range(how_many):
            pattern, scrapped = self.random.choice(self.patterns), self.random.random() < SCRAPPED
            stages = len(pattern.route.stages)
            plan = _Plan(self.random.randint(250, 365 * YEARS), pattern, stages, scrapped)
            if scrapped:
                plan.stages = self.random.randrange(stages)
            plans.append(plan)
        ordered = [plan for plan in plans if not plan.scrapped and self.random.random() < FOR_A_BUILD]
        builds = self.builds([plan.spec for plan in ordered], [200 - plan.days_ago for plan in ordered], closed=True)
        for plan, build in zip(ordered, builds, strict=True):
            plan.spec = build
        return plans

    def in_work(self, how_many: int) -> list[_Plan]:
        """Plan boards that wait at a bench, every second one for a build."""
        plans = []
        for place in range(how_many):
            pattern = self.patterns[place % len(self.patterns)]
            plans.append(_Plan(60 + place % 60, pattern, place // len(self.patterns) % len(pattern.route.stages)))
        for plan in plans:  # those on which nothing is done yet lie in the rack
            plan.stages = max(plan.stages, 1)
        halves = plans[::2]
        builds = self.builds([plan.spec for plan in halves], [10 + at % 90 for at in range(len(halves))], closed=False)
        for plan, build in zip(halves, builds, strict=True):
            plan.spec = build
        return plans

    def in_rack(self, how_many: int) -> list[_Plan]:
        """Plan blanks that rest, a quarter of them put to a pattern already."""
        return [
            _Plan(5 + 3 * place % 200, None if place % 4 else self.patterns[place % len(self.patterns)])
            for place in range(how_many)
        ]

    def let_happen_besides(self, plans: Sequence[_Plan], entries: int) -> None:
        """Spread what happens besides over the logs, until there are so many more entries."""
        if entries and not plans:
            raise NoRoom("Only boards that are done with have a longer log; there are none.")
        while entries > 0:
            plan = self.random.choice(plans)
            happened = self.random.choice(("hold", "slip", "back")) if entries > 1 and plan.stages else "measure"
            plan.besides.append(happened)
            entries -= 1 if happened == "measure" else 2

    # Logs

    def write(self, plans: Sequence[_Plan]) -> None:
        """Write all blanks with their logs; their numbers run with the days."""
        if not plans:
            return
        plans = sorted(plans, key=lambda plan: -plan.days_ago)
        numbers = Series.take(Series.Kind.BLANK, len(plans), on=self.diary.day(0))
        for start in range(0, len(plans), AT_ONCE):
            here = slice(start, start + AT_ONCE)
            lives = [_Life(self, plan, number) for plan, number in zip(plans[here], numbers[here], strict=True)]
            Blank.objects.bulk_create([life.blank for life in lives])
            entries = [entry for life in lives for entry in life.entries]
            LogEntry.objects.bulk_create([entry for entry in entries if entry.kind != Kind.UNDONE])
            LogEntry.objects.bulk_create([entry for entry in entries if entry.kind == Kind.UNDONE])

    def read_moisture(self) -> None:
        """Read every second blank in the rack by meter, twice, so that some have settled."""
        lying = list(Blank.objects.in_rack().exclude(species__composite=True).order_by("pk")[::2])
        for ago in (12, 2):
            hand = self.diary.hand(ago, who=2)
            percents = [(blank, Decimal(80 + (blank.pk * 7 + ago) % 25) / 10) for blank in lying]
            read = [(blank, {"way": Way.METER, "percent": percent}) for blank, percent in percents]
            note_readings(hand, self.shop, read)


class _Life:
    """One blank and its log on their way into the database."""

    def __init__(self, past: _Past, plan: _Plan, number: str) -> None:
        self.past, self.plan = past, plan
        self.blank = past.piece(plan.days_ago, number)
        self.state, self.entries, self.ago = State(), [], float(plan.days_ago)
        self._live()
        state, last = self.state, self.entries[-1]
        blank = self.blank
        blank.build_id, blank.pattern_id, blank.condition = state.build_id, state.pattern_id, state.condition
        blank.stages, blank.done = list(state.stages), list(state.done)
        blank.next_stage, blank.in_rack = state.next_stage, state.in_rack
        blank.version, blank.changed_at, blank.changed_by = len(self.entries), last.at, last.by

    def _live(self) -> None:
        plan = self.plan
        self._add(Kind.RECEIVED)
        for _ in range(plan.besides.count("measure")):
            size = {name: format(getattr(self.blank, name), "f") for name in ("length", "width", "thickness")}
            self._add(Kind.MEASURED, readings=size)
        if plan.spec is None:
            return
        spec = {"build": plan.spec} if isinstance(plan.spec, Build) else {"pattern": plan.spec}
        self._add(Kind.ASSIGNED, stages=list(plan.spec.route.stages), **spec)
        besides = [what for what in plan.besides if what != "measure"]
        for place, stage in enumerate(plan.spec.route.stages[: plan.stages]):
            for what in besides[place :: plan.stages]:
                self._besides(what, stage)
            self._finish(stage)
        if plan.scrapped:
            self._add(Kind.SCRAPPED, reason="Tore out along the edge, right into the board.")

    def _besides(self, what: str, stage: str) -> None:
        """Let something happen that takes two entries and leads back to where the board was."""
        match what:
            case "hold":
                self._add(Kind.HELD, reason="A shake shows at the heel end.")
                self._add(Kind.RELEASED, reason="Only in the waste.")
            case "slip":
                before = self.state
                slip = self._finish(stage)
                self._add(Kind.UNDONE, state=before, undoes=slip)
            case _:
                self._finish(stage)
                self._add(Kind.REWORKED, stage=stage, reason=f"{STAGES[stage].label} was not even.")

    def _finish(self, stage: str) -> LogEntry:
        spec = self.plan.spec
        known = self.past.known[spec.pattern_id if isinstance(spec, Build) else spec.pk][stage]
        read = {name: format(Decimal(value) + self._off(), "f") for name, value in known.readings.items()}
        return self._add(Kind.FINISHED, stage=stage, readings=read, aims=known.aims, made=known.made)

    def _off(self) -> Decimal:
        return Decimal(self.past.random.randint(0, 4)) / 100

    def _add(self, kind: Kind, state: State | None = None, **details: Any) -> LogEntry:
        """Write one entry, some days after the one before."""
        random, diary = self.past.random, self.past.diary
        moment = diary.now - timedelta(days=self.ago) + timedelta(minutes=random.randint(1, 400))
        if self.entries:
            moment = max(moment, self.entries[-1].at + timedelta(minutes=1))
        entry = LogEntry(
            blank=self.blank,
            number=len(self.entries) + 1,
            at=moment,
            by=random.choice(diary.people),
            kind=kind,
            device="Tablet at the machines",
            from_stage=self.state.next_stage,
            **details,
        )
        self.state = after(self.state, entry) if state is None else state
        entry.to_stage = self.state.next_stage
        self.entries.append(entry)
        self.ago = max(self.ago - random.uniform(0.5, 6), 0.5)
        return entry
