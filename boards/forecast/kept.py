"""Forecasts that were kept, held against what came true."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from django.db.models import Count, Max
from django.utils import timezone

from boards.forecast.outlook import SHARES, forecast_builds
from boards.models import Blank, KeptForecast, Kind, LogEntry
from shop.models import Build, Shop

ENOUGH: Final = 10  # dates that have come true, before a share says anything


@dataclass(frozen=True, slots=True)
class CameTrue:
    """Of so many dates that were forecast with one chance, how many came true."""

    chance: int  # percent
    dates: int
    true: int

    @property
    def share(self) -> float:
        """Percent of them."""
        return 100 * self.true / self.dates


def keep_forecasts(shop: Shop, *, now: datetime) -> int:
    """Keep what is forecast today, once a day. Returns for how many builds."""
    today = timezone.localdate(now)
    if KeptForecast.objects.filter(made_on=today).exists():
        return 0
    made = [
        KeptForecast(
            build=outlook.build,
            made_on=today,
            dates={str(share): day.isoformat() for share, day in outlook.dates.items()},
        )
        for outlook in forecast_builds(shop, now=now).outlooks
        if outlook.dates
    ]
    return len(KeptForecast.objects.bulk_create(made, ignore_conflicts=True))


def done_on(builds: Sequence[Build]) -> dict[int, date]:
    """Tell on which day the last board of each build was on its neck, where all of them are."""
    through = LogEntry.objects.filter(kind=Kind.FINISHED, to_stage="", undone_by=None, blank__next_stage="")
    rows = (
        through.filter(blank__build__in=builds)
        .values("blank__build")
        .annotate(last=Max("at"), boards=Count("blank", distinct=True))
    )
    wanted = {build.pk: build.boards_wanted for build in builds}
    to_do = Blank.objects.not_scrapped().filter(build__in=builds).on_the_way()
    unfinished = set(to_do.values_list("build_id", flat=True))
    return {
        row["blank__build"]: timezone.localdate(row["last"])
        for row in rows
        if row["blank__build"] not in unfinished and row["boards"] >= wanted[row["blank__build"]]
    }


def came_true() -> list[CameTrue]:
    """Count, for each chance, how many of the dates that are past by now came true: one forecast a week of each build.

    Weekly, because what was forecast on one day and on the next is all but the same forecast.
    """
    kept = list(KeptForecast.objects.select_related("build").order_by("build", "made_on"))
    done = done_on(list({forecast.build_id: forecast.build for forecast in kept}.values()))
    weekly = {(forecast.build_id, forecast.made_on.isocalendar()[:2]): forecast for forecast in reversed(kept)}
    counted = []
    for share in SHARES:
        days = [
            (done[build], date.fromisoformat(forecast.dates[str(share)]))
            for (build, _), forecast in weekly.items()
            if build in done and forecast.made_on < done[build] and str(share) in forecast.dates
        ]
        if len(days) >= ENOUGH:
            counted.append(CameTrue(share, len(days), sum(actual <= day for actual, day in days)))
    return counted
