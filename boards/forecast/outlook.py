"""Dates: when each build will be done, by half of the runs and by most of them, and what holds it up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Final

import numpy as np
from django.utils import timezone

from boards.forecast.jobs import Job, imagined, jobs_of, turn
from boards.forecast.playing import DAYS_AHEAD, PLACES, durations, minutes_until, play_shop
from geometry.forecast import ENOUGH, Played
from shop.models import Build, Pattern, Shop, Week
from shop.stages import STAGES

RUNS: Final = 1000
HALF: Final = 50  # percent of the runs
MOST: Final = 85
SHARES: Final = (10, 25, HALF, 75, MOST, 95)


@dataclass(frozen=True, slots=True)
class Outlook:
    """When one build's boards will be on their necks.

    ``dates`` are by the percent of the runs that came out by then. ``in_time`` is the share of runs that came out by
    the due date, None without one. ``no_date`` says why there is none.
    """

    build: Build
    boards: tuple[Job, ...] = ()
    dates: dict[int, date] = field(default_factory=dict)
    in_time: float | None = None
    held_up: str = ""
    no_date: str = ""

    @property
    def by_half(self) -> date | None:
        """The day by which it is as likely as not."""
        return self.dates.get(HALF)

    @property
    def by_most(self) -> date | None:
        """The day that can be promised."""
        return self.dates.get(MOST)

    @property
    def late_by(self) -> int:
        """How many days after the promised one it will be done, in most runs."""
        if self.by_most is None or self.build.due_on is None:
            return 0
        return max((self.by_most - self.build.due_on).days, 0)


@dataclass(slots=True)
class Forecast:
    """What is forecast at a moment, for every open build, those with the earliest date first."""

    at: datetime
    outlooks: list[Outlook]
    seen: dict[str, int] = field(default_factory=dict)  # durations by stage that the log holds

    def of(self, build: Build) -> Outlook | None:
        """Give the outlook of one build."""
        return next((outlook for outlook in self.outlooks if outlook.build.pk == build.pk), None)

    @property
    def learned(self) -> list[str]:
        """Name the stages whose durations are the shop's own."""
        return [STAGES[stage].label for stage, count in self.seen.items() if count >= ENOUGH]


def forecast_builds(
    shop: Shop, *, now: datetime, extra: Sequence[tuple[Pattern, int, date | None]] = (), runs: int = RUNS
) -> Forecast:
    """Forecast all open builds; `extra` are builds that might be taken: a pattern, how many boards, when due."""
    week, today = Week.current(), timezone.localdate(now)
    jobs, stuck = jobs_of(shop, today)
    for nth, (pattern, count, due) in enumerate(extra):
        jobs += imagined(pattern, count, due, nth, shop, today)
    jobs.sort(key=turn)
    seen = {stage: durations(stage) for stage in STAGES}
    played = play_shop(jobs, seen, shop, week, now, runs)
    by_build = [(build, places) for build, places in _by_build(jobs) if build is not None]
    whole = _by_instrument(by_build)
    outlooks = [_outlook(build, places, whole[build.pk], jobs, played, now) for build, places in by_build]
    outlooks += [Outlook(build, no_date=why) for build, why in stuck]
    outlooks.sort(key=lambda each: (each.by_most is None, each.by_most or today, each.build.number or ""))
    return Forecast(now, outlooks, {stage: len(minutes) for stage, minutes in seen.items()})


def _by_build(jobs: Sequence[Job]) -> list[tuple[Build | None, list[int]]]:
    found: dict[int, tuple[Build | None, list[int]]] = {}
    for place, job in enumerate(jobs):
        found.setdefault(job.build.pk if job.build else 0, (job.build, []))[1].append(place)
    return list(found.values())


def _by_instrument(by_build: Sequence[tuple[Build, list[int]]]) -> dict[int, list[int]]:
    """Give each build the boards of its whole instrument: it is done when all of them are."""
    whole: dict[int, list[int]] = {}
    for build, places in by_build:
        whole.setdefault(build.goes_with_id or build.pk, []).extend(places)
    return {build.pk: whole[build.goes_with_id or build.pk] for build, _ in by_build}


def _outlook(
    build: Build, own: list[int], places: list[int], jobs: Sequence[Job], played: Played, now: datetime
) -> Outlook:
    """Say when all boards of a build, and of its instrument, are done, in so many of the runs."""
    finish = played.finish[:, places].max(axis=1)
    moments = np.quantile(finish, np.array(SHARES) / 100, method="higher")
    in_time = None
    if build.due_on is not None:
        in_time = float(np.mean(finish < minutes_until(now, build.due_on + timedelta(days=1))))
    boards = tuple(jobs[place] for place in own)
    if not np.isfinite(moments[SHARES.index(MOST)]):
        return Outlook(build, boards, no_date=f"Not within the next {DAYS_AHEAD // 365} years.", in_time=in_time)
    slowest = places[int(played.finish[:, places].mean(axis=0).argmax())]
    held_up = _held_up(jobs[slowest], played, slowest, now)
    dates = {
        share: _date(now, float(moment)) for share, moment in zip(SHARES, moments, strict=True) if np.isfinite(moment)
    }
    return Outlook(build, boards, dates, in_time, held_up)


def _date(now: datetime, minutes: float) -> date:
    return timezone.localdate(now + timedelta(minutes=minutes))


def _held_up(job: Job, played: Played, place: int, now: datetime) -> str:
    """Say what a board waits for longest: wood, a bench, hands."""
    rests = minutes_until(now, job.ready_on) / 60 / 24
    waits = {f"the {STAGES[stage].label.lower()} bench": played.waited_for_bench[:, place, at].mean() / 60
             for at, stage in enumerate(PLACES)}  # fmt: skip
    waits["a free hand"] = played.waited_for_hands[:, place].mean() / 60
    longest = max(waits, key=waits.__getitem__)
    words = []
    if job.why_then and rests >= 1:
        words.append(f"{job.why_then} for {rests:.0f} day{'s' if round(rests) != 1 else ''} more.")
    if waits[longest] >= 0.5:
        words.append(f"Waits longest for {longest}: about {waits[longest]:.0f} h of work."
                     if waits[longest] >= 1 else f"Waits half an hour for {longest}.")  # fmt: skip
    return " ".join(words) or "Nothing holds it up."
