"""The day sheet: what is late, what each bench has to do, what came in, what has settled, what waits for a decision."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, Max, Min, OuterRef, QuerySet, Subquery
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from boards.forecast.outlook import MOST
from boards.help import is_empty
from boards.models import Blank, KeptForecast, Kind, LogEntry
from boards.plans import Day, day_at
from boards.settled_since import SINCE_DAYS, settled_since
from shop.models import Build, BuildEntry, BuildKind, BuildState, Shop, Week
from shop.models.air import AirReading
from shop.stages import STAGES, Stage

ROWS = 20  # of one kind; what is more is counted
AIR_HOURS = 24  # a reading that is older tells nothing of today


@dataclass(frozen=True, slots=True)
class BenchRow:
    """One bench of the day: how many boards, how long, and what is fitted first. `unlike` cannot be worked out."""

    stage: Stage
    boards: int
    minutes: float
    first: str
    stands: bool
    unlike: int

    @classmethod
    def of(cls, stage: Stage, day: Day, week: Week) -> BenchRow:
        """Sum a day up. Where the log does not tell yet how long a board takes, the shop's settings do."""
        boards, runs = len(day.boards), day.all_runs
        minutes = day.time.total if day.time else boards * week.minutes(stage.key) + sum(run.minutes for run in runs)
        first = runs[0].setup.words if runs else ""
        return cls(stage, boards, minutes, first, bool(runs) and not runs[0].changes, len(day.without))

    @property
    def takes(self) -> str:
        """Say how long it takes."""
        return hours(self.minutes)


@dataclass(frozen=True, slots=True)
class Promise:
    """A build with its promised day, and when its boards will be on their necks by the forecast that was kept last."""

    build: Build
    today: date
    most: date | None = None
    why: str = ""

    @property
    def days(self) -> int:
        """Days until it is due; negative once it is late."""
        return (self.build.due_on - self.today).days if self.build.due_on else 0

    @property
    def over(self) -> int:
        """Days since it was due."""
        return -self.days

    @property
    def will_be_late_by(self) -> int:
        """Days by which the forecast misses the promised day."""
        return max((self.most - self.build.due_on).days, 0) if self.most and self.build.due_on else 0


@dataclass(frozen=True, slots=True)
class AirNow:
    """The air as it was read last, against the shop's band."""

    reading: AirReading | None
    shop: Shop
    now: datetime

    @property
    def is_fresh(self) -> bool:
        """Tell whether it says something of today."""
        return self.reading is not None and self.now - self.reading.at <= timedelta(hours=AIR_HOURS)

    @property
    def short(self) -> str:
        """Say on which side of the band it is; nothing inside it."""
        if self.reading is None or self.shop.humidity_low <= round(self.reading.humidity) <= self.shop.humidity_high:
            return ""
        return "too dry" if self.reading.humidity < self.shop.humidity_low else "too damp"

    @property
    def words(self) -> str:
        """Say how it stands to the band."""
        if self.reading is None:
            return "nobody has read it yet"
        band = f"{self.shop.humidity_low} to {self.shop.humidity_high} %"
        return f"{self.short}: {band} is wanted" if self.short else f"inside the band of {band}"

    @property
    def is_off(self) -> bool:
        """Tell whether something is to be done about it."""
        return self.is_fresh and bool(self.short)


def hours(minutes: float) -> str:
    """Write a stretch of work: 45 min, 6 h, 6 h 10."""
    whole, rest = divmod(round(minutes / 5) * 5 if minutes >= 60 else round(minutes), 60)
    if not whole:
        return f"{rest} min"
    return f"{whole} h {rest:02}" if rest else f"{whole} h"


@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """Show how the day stands."""
    now, shop, week = timezone.now(), request.shop, Week.current()
    day = timezone.localdate(now)
    benches = [BenchRow.of(stage, day_at(key, shop, day), week) for key, stage in STAGES.items()]
    late, soon = promises(shop, day)
    settled, rested = settled_since(shop, today=day)
    held = list(_held()[:ROWS])
    held_builds = list(_held_builds()[:ROWS])
    held_count = Blank.objects.held().count()
    context = {
        "day": day,
        "late": late,
        "soon": soon,
        "benches": benches,
        "at_work": [row for row in benches if row.boards],
        "boards": sum(row.boards for row in benches),
        "takes": hours(sum(row.minutes for row in benches)),
        "held": held,
        "held_builds": held_builds,
        "held_more": held_count - len(held),
        "to_decide": held_count + len(held_builds),
        "came_in": came_in(day),
        "settled": settled[:8],
        "settled_more": max(len(settled) - 8, 0),
        "rested": rested,
        "since_days": SINCE_DAYS,
        "air": AirNow(AirReading.objects.standing().filter(at__lte=now).order_by("-at").first(), shop, now),
        "lately": LogEntry.objects.with_words().select_related("blank").order_by("-at", "-pk")[:6],
        "first_steps": is_empty(),
        "section": "today",
    }
    return render(request, "boards/today.html", context)


def promises(shop: Shop, day: date) -> tuple[list[Promise], list[Promise]]:
    """List what is late, or will be as it stands, and what is to be delivered soon; with the last forecast's word."""
    last = KeptForecast.objects.aggregate(last=Max("made_on"))["last"]
    fresh = last is not None and (day - last).days <= SINCE_DAYS
    kept = KeptForecast.objects.filter(made_on=last, build__closed_on=None) if fresh else KeptForecast.objects.none()
    dates = dict(kept.values_list("build_id", "dates"))
    late, soon = [], []
    for build in Build.objects.open().filter(due_on__isnull=False)[: 10 * ROWS]:
        told = dates.get(build.pk, {}).get(str(MOST))
        promise = Promise(build, day, date.fromisoformat(told) if told else None)
        if promise.days < 0 or (promise.will_be_late_by and not build.is_held):
            late.append(promise)
        elif promise.days <= shop.horizon_days:
            soon.append(promise)
    return late, soon


def came_in(day: date) -> list[dict[str, Any]]:
    """Count what came in on a day, by wood and dealer."""
    boxes = Blank.objects.filter(received_on=day).order_by().values("species__name", "supplier")
    return list(boxes.annotate(blanks=Count("pk"), first=Min("number"), last=Max("number")).order_by("first"))


def _held() -> QuerySet[Blank]:
    """List what is held, each with the reason that stands."""
    reasons = LogEntry.objects.filter(blank=OuterRef("pk"), kind=Kind.HELD, undone_by=None).order_by("-number")
    return Blank.objects.held().with_spec().annotate(held_because=Subquery(reasons.values("reason")[:1]))


def _held_builds() -> QuerySet[Build]:
    reasons = BuildEntry.objects.filter(build=OuterRef("pk"), kind=BuildKind.HELD).order_by("-at", "-pk")
    held = Build.objects.filter(state=BuildState.HELD).order_by("due_on", "number")
    return held.annotate(held_because=Subquery(reasons.values("text")[:1]))
