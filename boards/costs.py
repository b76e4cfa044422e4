"""What boards cost: their wood, and the minutes that each stage took at what an hour costs there.

Nothing is made up: where a cost is not known it is left out of the sum, and the sum says of how many boards.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import cached_property, reduce
from operator import or_
from typing import Final

from django.db.models import Q
from django.utils import timezone

from boards.lookback.period import LONGEST, Period
from boards.lookback.work import Work, done_between, work_done
from boards.material import Share, Sharing, came_good
from boards.models import Blank, Condition, Kind, LogEntry
from boards.times import minutes_from_log
from shop.models import Build, Shop, Week
from shop.stages import STAGES

BY_LOG, BY_MIDDLE, BY_SETTINGS = "log", "middle", "settings"
SOURCES: Final = {
    BY_LOG: "by the log of that board",
    BY_MIDDLE: "by the middle of what boards take there",
    BY_SETTINGS: "by the shop's hours",
}
MINUTES_RULE: Final = (
    "Minutes are those since the same person finished the board before, where that was on the same setup and the same "
    "day. Where the log does not tell them so, they are the middle of what boards take at that bench, and before there "
    "are ten boards, what the shop's hours say. Minutes for setting up are those of the shop's habits for what was "
    "changed, shared over the boards of the run. The work in a board that was scrapped stays with the build that it "
    "was for."
)


@dataclass(frozen=True, slots=True)
class StageCost:
    """What one stage of one board took, and what that costs; without a rate, None."""

    stage: str
    at: datetime
    minutes: float
    source: str
    setup: float
    rate: Decimal | None

    @property
    def cost(self) -> Decimal | None:
        """The minutes and the share of setting up, at the hour's rate."""
        return None if self.rate is None else self.rate * Decimal(repr(self.minutes + self.setup)) / 60

    @property
    def label(self) -> str:
        """The stage as people call it."""
        return STAGES[self.stage].label

    @property
    def source_words(self) -> str:
        """Where the minutes come from."""
        return SOURCES[self.source]


@dataclass(frozen=True, slots=True)
class BoardCost:
    """What one board cost so far. ``wood`` is its own blank; a board that was scrapped has its wood shared out."""

    blank: Blank
    good_on: date | None
    share: Share
    stages: tuple[StageCost, ...]

    @property
    def is_scrapped(self) -> bool:
        """Tell whether it came to nothing."""
        return self.blank.condition == Condition.SCRAPPED

    @property
    def wood(self) -> Decimal | None:
        """The cost of its blank."""
        return Decimal(0) if self.is_scrapped else self.blank.cost

    @property
    def scrap(self) -> Decimal | None:
        """Its share of what was scrapped."""
        return Decimal(0) if self.is_scrapped else self.share.each

    @property
    def minutes(self) -> float:
        """Minutes of all its stages, without setting up."""
        return sum(stage.minutes for stage in self.stages)

    @property
    def setup(self) -> float:
        """Its share of the minutes of setting up."""
        return sum(stage.setup for stage in self.stages)

    @property
    def work(self) -> Decimal:
        """What is known of the cost of its work."""
        return sum((stage.cost for stage in self.stages if stage.cost is not None), Decimal(0))

    @property
    def total(self) -> Decimal:
        """All that is known."""
        return (self.wood or Decimal(0)) + (self.scrap or Decimal(0)) + self.work

    @property
    def unknown(self) -> list[str]:
        """Say what is not known of it."""
        said = ["what its blank cost"] if self.wood is None else []
        if self.scrap is None:
            said.append("who bears the scrapped wood")
        without = dict.fromkeys(stage.label.lower() for stage in self.stages if stage.rate is None)
        return said + [f"an hour of {stage}" for stage in without]


@dataclass(frozen=True)
class Costs:
    """What several boards cost together."""

    boards: Sequence[BoardCost]

    @cached_property
    def wood(self) -> Decimal:
        """Their blanks, as far as known."""
        return sum((board.wood or Decimal(0) for board in self.boards), Decimal(0))

    @cached_property
    def scrap(self) -> Decimal:
        """Their shares of scrapped wood."""
        return sum((board.scrap or Decimal(0) for board in self.boards), Decimal(0))

    @property
    def material(self) -> Decimal:
        """Their wood with what they bear of scrapped wood."""
        return self.wood + self.scrap

    @cached_property
    def minutes(self) -> float:
        """Their minutes, without setting up."""
        return sum(board.minutes for board in self.boards)

    @cached_property
    def setup(self) -> float:
        """Minutes of setting up."""
        return sum(board.setup for board in self.boards)

    @cached_property
    def work(self) -> Decimal:
        """What is known of the cost of the work in them."""
        return sum((board.work for board in self.boards), Decimal(0))

    @property
    def total(self) -> Decimal:
        """All that is known."""
        return self.wood + self.scrap + self.work

    @property
    def good(self) -> int:
        """How many of them came good."""
        return sum(board.good_on is not None for board in self.boards)

    @property
    def each(self) -> Decimal | None:
        """What one of them cost on average."""
        return self.total / len(self.boards) if self.boards else None

    @cached_property
    def unknown(self) -> list[tuple[str, int]]:
        """What is not known, and of how many boards."""
        counts: dict[str, int] = {}
        for board in self.boards:
            for what in board.unknown:
                counts[what] = counts.get(what, 0) + 1
        return list(counts.items())

    @cached_property
    def boards_in_part(self) -> int:
        """How many boards there are of which something is not known."""
        return sum(bool(board.unknown) for board in self.boards)

    @cached_property
    def stages(self) -> list[tuple[str, int, float, float, Decimal | None]]:
        """For each stage: its name, how often, minutes, minutes of setting up, and the cost if its hour has one."""
        rows = []
        for key, stage in STAGES.items():
            here = [each for board in self.boards for each in board.stages if each.stage == key]
            if here:
                known = None if here[0].rate is None else sum((each.cost for each in here), Decimal(0))
                minutes, setup = sum(each.minutes for each in here), sum(each.setup for each in here)
                rows.append((stage.label, len(here), minutes, setup, known))
        return rows


@dataclass
class _Rates:
    """What minutes are taken where the log of a board does not tell them, and what an hour costs."""

    week: Week = field(default_factory=Week.current)
    _middles: dict[str, float | None] = field(default_factory=dict)

    def cost_of(self, work: Work) -> StageCost:
        """Say what one stage of a board took and costs."""
        minutes, source = work.minutes, BY_LOG
        if minutes is None:
            if work.stage not in self._middles:
                self._middles[work.stage] = minutes_from_log(work.stage)
            minutes, source = self._middles[work.stage], BY_MIDDLE
        if minutes is None:
            minutes, source = float(self.week.minutes(work.stage)), BY_SETTINGS
        return StageCost(work.stage, work.at, minutes, source, work.setup_share, self.week.rate(work.stage))


def costs_of_build(build: Build, shop: Shop, *, today: date) -> Costs:
    """Reckon what a build cost so far: all its boards, those too that were scrapped on the way."""
    blanks = list(Blank.objects.filter(build=build).select_related("species", "build").order_by("number"))
    if not blanks:
        return Costs([])
    done = LogEntry.objects.filter(blank__in=blanks, kind=Kind.FINISHED, undone_by=None)
    days = sorted({timezone.localdate(at) for at in done.values_list("at", flat=True)})
    parts = [done_between(_midnight(first), _midnight(last + timedelta(days=1))) for first, last in _stretches(days)]
    works = work_done(reduce(or_, parts), shop) if parts else []
    good = LogEntry.objects.filter(came_good(), blank__in=blanks).order_by("at").values_list("blank", "at")
    good_on = {blank: timezone.localdate(at) for blank, at in good}
    good_days = [good_on[blank.pk] for blank in blanks if blank.pk in good_on]
    in_work = len(good_days) < len(blanks)
    bear_on = [*good_days, *([today] if in_work else [])]
    return _costs(blanks, works, good_on, Sharing(min(bear_on), max(bear_on)), today)


def costs_between(period: Period, shop: Shop, *, today: date) -> Costs:
    """Reckon what the boards cost that came good in a period, with all that was done on them, whenever it was."""
    sharing = Sharing(period.first, period.last)
    pks = [pk for pk, day in sharing.came_good.items() if period.first <= day <= period.last]
    if not pks:
        return Costs([])
    good = LogEntry.objects.filter(came_good(), at__gte=period.begins, at__lt=period.ends)
    blanks = list(Blank.objects.filter(pk__in=good.values("blank")).select_related("species", "build", "pattern"))
    # A board that was begun long before is in the first of these, but not with those that went through beside it.
    beside = done_between(period.begins - timedelta(days=LONGEST), period.ends)
    works = work_done(beside | Q(blank__in=good.values("blank")), shop)
    return _costs(blanks, works, sharing.came_good, sharing, today)


def _costs(
    blanks: Iterable[Blank], works: Iterable[Work], good_on: Mapping[int, date], sharing: Sharing, today: date
) -> Costs:
    rates, done = _Rates(), {blank.pk: [] for blank in blanks}
    for work in works:
        if work.blank in done:
            done[work.blank].append(rates.cost_of(work))
    boards = []
    for blank in blanks:
        day = good_on.get(blank.pk)
        boards.append(BoardCost(blank, day, sharing.share(blank.species_id, day or today), tuple(done[blank.pk])))
    return Costs(boards)


def _stretches(days: Sequence[date]) -> list[tuple[date, date]]:
    """Join days that lie within a week of one another, so that the log is looked at in few pieces."""
    joined: list[tuple[date, date]] = []
    for day in days:
        if joined and (day - joined[-1][1]).days <= 7:
            joined[-1] = (joined[-1][0], day)
        else:
            joined.append((day, day))
    return joined


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time()))
