"""The shop as `geometry.forecast` plays it: its benches, what stands on them, and how long boards take there."""

from __future__ import annotations

import zlib
from collections.abc import Sequence
from datetime import date, datetime
from typing import Final

import numpy as np
from django.utils import timezone

from boards.forecast.jobs import Job
from boards.models import Bench, Kind, LogEntry
from boards.places import machine_for
from boards.setups import setup_of
from boards.times import LOOK_BACK, minutes_between
from geometry import forecast
from geometry.forecast import Played, Step, draw_minutes, play
from shop.models import Shop, Week
from shop.stages import STAGES

SEED: Final = 20
DAYS_AHEAD: Final = 3 * 365
PLACES: Final = list(STAGES)  # benches, in the order in which geometry counts them


def durations(stage: str) -> list[float]:
    """Give what boards took at a bench, from the log: the latest first."""
    entries = LogEntry.objects.filter(kind=Kind.FINISHED, stage=stage, undone_by=None)
    return minutes_between(list(entries.order_by("-at", "-pk").values_list("by", "at")[:LOOK_BACK]))


def play_shop(
    jobs: Sequence[Job], seen: dict[str, list[float]], shop: Shop, week: Week, now: datetime, runs: int
) -> Played:
    """Play the shop through with these boards; the same board meets the same luck whatever else is in the queue."""
    most = max((len(job.stages) for job in jobs), default=0)
    minutes = np.zeros((runs, len(jobs), most))
    for place, job in enumerate(jobs):
        random = np.random.default_rng([SEED, zlib.crc32(job.name.encode())])
        for step, stage in enumerate(job.stages):
            minutes[:, place, step] = draw_minutes(seen[stage], week.minutes(stage), (runs,), random)
    steps, benches, standing = _steps(jobs, shop, week)
    ready = [minutes_until(now, job.ready_on) for job in jobs]
    return play(
        steps,
        minutes,
        np.array(ready, float),
        benches=benches,
        hands=week.hands,
        hours=week.hours(now, DAYS_AHEAD),
        standing=standing,
        ranks=_ranks(jobs, most),
    )


def _steps(jobs: Sequence[Job], shop: Shop, week: Week) -> tuple[list[list[Step]], list[forecast.Bench], list[int]]:
    """Say what each board needs at each bench, what the benches take to be changed, and what stands on them."""
    kept = {bench.stage: bench for bench in Bench.objects.all()}
    numbers: dict[str, dict[frozenset, int]] = {stage: {} for stage in STAGES}
    pieces: dict[str, list] = {stage: [] for stage in STAGES}
    steps = []
    for job in jobs:
        row = []
        for stage in job.stages:
            need = setup_of(stage, job.board, shop.style).pieces
            key = frozenset(need.items())
            if key not in numbers[stage]:
                numbers[stage][key] = len(pieces[stage])
                pieces[stage].append(need)
            glued = (shop.clamp_minutes, week.cure_hours * 60) if stage == "gluing" else (0.0, 0.0)
            row.append(Step(PLACES.index(stage), numbers[stage][key], *glued))
        steps.append(row)
    benches, standing = [], []
    for stage in PLACES:
        now = kept.get(stage, Bench(stage=stage)).standing(shop)
        machine, needs = machine_for(stage, shop), pieces[stage]
        change = np.zeros((1, 0))
        if needs:
            change = np.array([[machine.between(one, other) for other in needs] for one in (*needs, now)], float)
        benches.append(forecast.Bench(shop.clamps if stage == "gluing" else 1, change))
        standing.append(-1)  # the last row of the table is what stands now
    return steps, benches, standing


def _ranks(jobs: Sequence[Job], most: int) -> np.ndarray:
    """Say whose turn it is: the earliest due first; at a bench that has a plan, those of the plan as it goes."""
    ranks = np.tile(np.arange(float(len(jobs)))[:, None], (1, most))
    for bench in Bench.objects.exclude(plan=None):
        planned = {number: place for place, number in enumerate(_in_plan(bench))}
        here = [
            place
            for place, job in enumerate(jobs)
            if job.stages[0] == bench.stage and job.board.blank.number in planned and not job.proposed
        ]
        by_plan = sorted(here, key=lambda place: planned[jobs[place].board.blank.number])
        for rank, place in zip(here, by_plan, strict=True):
            ranks[place, 0] = rank
    return ranks


def _in_plan(bench: Bench) -> list[str]:
    return [number for run in bench.plan["runs"] for number in run["boards"]]


def minutes_until(now: datetime, day: date) -> float:
    """Count the minutes from a moment to the beginning of a day; none if that has begun."""
    midnight = timezone.make_aware(datetime.combine(day, datetime.min.time()))
    return max((midnight.timestamp() - now.timestamp()) / 60, 0.0)
