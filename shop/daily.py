"""What the shop's machine does once a day by itself: a register of jobs, and what carries them out.

`serve` does them while it runs, in a thread of its own; `manage.py daily` does them for cron. Each job is done once a
day, whichever of the two and however many of them there are: `shop.models.daily` says whose turn it is.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime

from django.db import close_old_connections, connection
from django.utils import timezone

from shop.models import DailyJob

logger = logging.getLogger(__name__)

SECONDS_AT_FIRST = 20  # after a start, so that the first pages come first
SECONDS_BETWEEN = 300


class NotDone(Exception):
    """A job could not be done; the message says why, in words for people."""


@dataclass(frozen=True, slots=True)
class Job:
    """Something to be done once a day; `words` says what, after "the machine could not"."""

    name: str
    words: str
    do: Callable[[datetime], object]


_jobs: dict[str, Job] = {}


def daily(name: str, words: str, do: Callable[[datetime], object]) -> None:
    """Register a job. It is given the time, and says by `NotDone` what stands in its way."""
    _jobs[name] = Job(name, words, do)


def jobs() -> list[Job]:
    """List all jobs, in the order in which they were registered."""
    return list(_jobs.values())


def do_due(now: Callable[[], datetime] = timezone.now, *, at_once: bool = False) -> dict[str, str]:
    """Do what is due, each job by itself. Returns what was taken up, with what stood in its way: "" if nothing did."""
    return {job.name: _do(job, turn, now) for job in jobs() if (turn := _turn(job, now, at_once))}


def _turn(job: Job, now: Callable[[], datetime], at_once: bool) -> DailyJob | None:
    return DailyJob.take_turn(job.name, now(), at_once=at_once)


def _do(job: Job, turn: DailyJob, now: Callable[[], datetime]) -> str:
    try:
        job.do(now())
    except NotDone as reason:
        logger.error("The machine could not %s: %s", job.words, reason)
        words = str(reason)
    except Exception:  # whatever it is, the other jobs are still to be done, and the pages served
        logger.exception("The machine could not %s.", job.words)
        words = "Something failed; what it was stands in the log."
    else:
        turn.went_well(now())
        return ""
    turn.failed(now(), words)
    return words


def troubles() -> list[tuple[str, DailyJob]]:
    """List what was not done the last time, in words."""
    found = {turn.name: turn for turn in DailyJob.objects.exclude(trouble="")}
    return [(job.words, found[job.name]) for job in jobs() if job.name in found]


class Round(threading.Thread):
    """Goes round all day and does what is due."""

    def __init__(self) -> None:
        super().__init__(name="daily", daemon=True)
        self.over = threading.Event()

    def run(self) -> None:
        """Go round until told to stop."""
        wait = SECONDS_AT_FIRST
        while not (_wanted.wait(wait) and self.over.is_set()):
            _wanted.clear()
            wait = SECONDS_BETWEEN
            close_old_connections()
            try:
                do_due()
            except Exception:  # a database that is locked or away: the next round finds it better
                logger.exception("What is due today could not be looked up.")
            finally:
                connection.close()

    def stop(self, seconds: float = 5) -> None:
        """Stop it; what it is in the midst of is done anew after the next start."""
        self.over.set()
        _wanted.set()
        self.join(seconds)


_wanted = threading.Event()


def soon() -> None:
    """Wake the round of this process, if it has one."""
    _wanted.set()
