"""The folder that backups lie in: their names, which is the last, and which are thinned out."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Final

from django.conf import settings
from django.utils import timezone

_NAME = re.compile(r"camberbook-(\d{8}-\d{6})\.tar\.gz")
_TIME = "%Y%m%d-%H%M%S"  # in UTC, as the hour that comes twice in autumn would give two the same name

OLD: Final = timedelta(days=2)


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that lies in the folder; what has this name was whole when it was given it."""

    file: Path
    made_at: datetime
    size: int

    @property
    def name(self) -> str:
        """Give the name of its file."""
        return self.file.name


def name_for(moment: datetime) -> str:
    """Name a backup that is made now."""
    return f"camberbook-{moment.astimezone(UTC):{_TIME}}.tar.gz"


def backups(folder: Path | None = None) -> list[Backup]:
    """List the backups in the folder, the newest first. What else lies there is none of ours."""
    found = []
    try:
        with os.scandir(folder or settings.BACKUPS) as entries:
            for entry in entries:
                moment = _moment(entry.name)
                if moment and entry.is_file():
                    found.append(Backup(Path(entry.path), moment, entry.stat().st_size))
    except OSError:  # not there yet, or its disk is not
        return []
    return sorted(found, key=lambda backup: backup.made_at, reverse=True)


def _moment(name: str) -> datetime | None:
    found = _NAME.fullmatch(name)
    try:
        return datetime.strptime(found[1], _TIME).replace(tzinfo=UTC) if found else None
    except ValueError:
        return None


def superfluous(made: Iterable[datetime], *, days: int, weeks: int, months: int) -> set[datetime]:
    """Say which backups are not needed any more.

    The newest of each day is kept for so many days, of each week for so many weeks, of each month for so many months;
    and all of the last one's 24 hours. What counts are days on which there is a backup, not days that have passed: a
    clock that runs wild, or a shop that was closed for a year, costs none.
    """
    newest_first = sorted(made, reverse=True)
    kept = {moment for moment in newest_first if newest_first[0] - moment < timedelta(hours=24)}
    for most, period_of in ((days, _day), (weeks, _week), (months, _month)):
        newest_of: dict[object, datetime] = {}
        for moment in newest_first:
            newest_of.setdefault(period_of(timezone.localdate(moment)), moment)
        kept |= set(list(newest_of.values())[:most])
    return set(newest_first) - kept


def _day(day: date) -> object:
    return day


def _week(day: date) -> object:
    return day.isocalendar()[:2]


def _month(day: date) -> object:
    return day.year, day.month


def thin_out(folder: Path) -> list[Path]:
    """Delete what is superfluous, and say what it was."""
    there = {backup.made_at: backup.file for backup in backups(folder)}
    days, weeks, months = settings.BACKUPS_KEPT
    gone = [there[moment] for moment in superfluous(there, days=days, weeks=weeks, months=months)]
    for file in gone:
        file.unlink(missing_ok=True)
    return gone
