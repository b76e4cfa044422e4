"""What was done at the benches, from the log: boards one after another, the runs that they went through in, minutes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q
from django.utils import timezone

from boards.lookback.setups import pieces_of, told_machine
from boards.models import Kind, LogEntry
from boards.places import Pieces
from boards.times import LONGEST_MINUTES
from shop.models import Shop
from shop.stages import STAGES

STANDS_FOR = timedelta(
    days=7
)  # what nobody has worked on for longer is taken to be set up anew (own rule, as on the benches)


@dataclass(slots=True)
class Run:
    """Boards that went through a stage one after another on one setup, and what was changed before them.

    ``minutes`` are those for the change, by the shop's settings; ``anew`` tells that nothing was known to stand there.
    """

    stage: str
    pieces: Pieces | None
    boards: list[Work] = field(default_factory=list)
    changed: tuple[str, ...] = ()
    minutes: float = 0.0
    anew: bool = False


@dataclass(slots=True)
class Work:
    """A stage finished on a board, and when; ``minutes``: since the board before it, where the log tells so."""

    entry: int
    blank: int
    stage: str
    at: datetime
    by: int
    made: Mapping[str, Any]
    species: str
    minutes: float | None = None
    run: Run | None = None

    @property
    def setup_share(self) -> float:
        """The minutes of the change before its run, shared over the run's boards."""
        return self.run.minutes / len(self.run.boards) if self.run else 0.0


def done_between(begins: datetime, ends: datetime) -> Q:
    """Ask for what was done between two moments, and for what stood on the machines before."""
    return Q(at__gte=begins - STANDS_FOR, at__lt=ends)


def work_done(when: Q, shop: Shop) -> list[Work]:
    """Fetch what was done, the earliest first, with its runs and its minutes, in one query."""
    entries = LogEntry.objects.filter(when, kind=Kind.FINISHED, undone_by=None, stage__in=list(STAGES))
    columns = ("pk", "blank_id", "stage", "at", "pressed_at", "by_id", "made", "blank__species__name")
    works = [
        Work(pk, blank, stage, pressed or at, by, made, species)
        for pk, blank, stage, at, pressed, by, made, species in entries.values_list(*columns)
    ]
    works.sort(key=lambda work: (work.at, work.entry))
    _put_into_runs(works, shop)
    _tell_minutes(works)
    return works


def _put_into_runs(works: Iterable[Work], shop: Shop) -> None:
    machines = {stage: told_machine(stage, shop) for stage in STAGES}
    last: dict[str, Work] = {}
    for work in works:
        machine, before = machines[work.stage], last.get(work.stage)
        pieces = pieces_of(work.stage, work.made, shop)
        lately = before is not None and work.at - before.at <= STANDS_FOR
        # A board may have lain either way round.
        ways = [] if pieces is None else [pieces, machine.turned(pieces)]
        if lately and before.run.pieces in ways:
            work.run = before.run
        else:
            stood = (before.run.pieces or {}) if lately else {}
            pieces = min(ways, key=lambda way: machine.between(stood, way), default=None)
            work.run = run = Run(work.stage, pieces, anew=not lately)
            if pieces:
                run.changed, run.minutes = machine.changed(stood, pieces), machine.between(stood, pieces)
        work.run.boards.append(work)
        last[work.stage] = work


def _tell_minutes(works: Iterable[Work]) -> None:
    """Take the time since the same person finished the board before, on the same setup and the same day.

    Who did something else in between, or changed the setup, did not work on this board all that time.
    """
    last: dict[tuple[int, object], Work] = {}
    for work in works:
        key = (work.by, timezone.localtime(work.at).date())
        before = last.get(key)
        if before is not None and before.run is work.run:
            gap = (work.at - before.at).total_seconds() / 60
            if 0 < gap <= LONGEST_MINUTES:
                work.minutes = gap
        last[key] = work
