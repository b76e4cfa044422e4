"""Whether the shop's machine is well: an address that programs ask, and what `manage.py doctor` looks at."""

from __future__ import annotations

import os
import platform
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import django
from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from shop import __version__
from shop.backup.archive import BrokenBackup
from shop.backup.databases import CannotCopy
from shop.backup.folder import OLD, backups
from shop.backup.making import check
from shop.checks import SOUND_WAL
from shop.daily import NotDone, troubles
from shop.fonts import WEIGHTS, font_file
from shop.models import Shop

LITTLE_ROOM = 500 * 2**20  # bytes


@require_safe
@never_cache
@login_not_required
def health(request: HttpRequest) -> HttpResponse:
    """Say "ok" if the database answers: for service managers and the like. Tells nothing else."""
    try:
        Shop.objects.exists()
    except DatabaseError:
        return HttpResponse("The database cannot be used.\n", status=503, content_type="text/plain; charset=utf-8")
    return HttpResponse("ok\n", content_type="text/plain; charset=utf-8")


@dataclass(frozen=True, slots=True)
class Finding:
    """What the doctor found: in order, worth knowing, or wrong."""

    what: str
    words: str
    wrong: bool = False
    note: bool = False


def findings(now: datetime) -> Iterator[Finding]:
    """Look at the machine, the data and the backups."""
    yield Finding(
        "Versions",
        f"Camberbook {__version__}, Python {platform.python_version()}, Django {django.get_version()}, "
        f"{platform.system()} {platform.release()}",
    )
    yield _folder()
    yield _room()
    yield from _database()
    yield from _backups(now)
    for words, job in troubles():
        yield Finding("Daily", f"The machine could not {words}: {job.trouble}", wrong=True)
    yield _fonts()


def _folder() -> Finding:
    if os.name != "nt" and settings.DATA.stat().st_mode & 0o077:
        return Finding("Data folder", f"{settings.DATA} can be looked into by other users of this machine.", wrong=True)
    try:
        with tempfile.TemporaryFile(dir=settings.DATA) as probe:
            probe.write(b"1")
    except OSError as error:
        return Finding("Data folder", f"{settings.DATA} cannot be written: {error.strerror}.", wrong=True)
    return Finding("Data folder", f"{settings.DATA} can be written, by this user alone.")


def _room() -> Finding:
    free = shutil.disk_usage(settings.DATA).free
    return Finding("Disk", f"{free / 2**30:.1f} GB are free where the data lies.", wrong=free < LITTLE_ROOM)


def _database() -> Iterator[Finding]:
    try:
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                version = sqlite3.sqlite_version
                sound = sqlite3.sqlite_version_info >= SOUND_WAL
                fault = (
                    f" Before {'.'.join(map(str, SOUND_WAL))} a rare fault can damage a database that several programs "
                    "write to at once: keep backups, and run one server."
                )
                yield Finding("SQLite", f"{version}.{'' if sound else fault}", note=not sound)
                cursor.execute("PRAGMA quick_check(3)")
                said = [row[0] for row in cursor.fetchall()]
                yield Finding("Database", "whole" if said == ["ok"] else f"damaged: {'; '.join(said)}", said != ["ok"])
            else:
                cursor.execute("SHOW server_version")
                yield Finding("PostgreSQL", cursor.fetchone()[0])
        executor = MigrationExecutor(connection)
        missing = executor.migration_plan(executor.loader.graph.leaf_nodes())
        said = f"{len(missing)} are not applied; serve does that when it starts" if missing else "all are applied"
        yield Finding("Migrations", said, wrong=bool(missing))
    except DatabaseError as error:
        yield Finding("Database", f"It cannot be used: {error}", wrong=True)


def _backups(now: datetime) -> Iterator[Finding]:
    found = backups()
    if not found:
        yield Finding("Backups", f"There is none in {settings.BACKUPS}.", wrong=True)
        return
    last = found[0]
    age = now - last.made_at
    words = f"The last of {len(found)} is {in_words(age)} old: {last.file}, {last.size / 2**20:.1f} MB"
    yield Finding("Backups", words, wrong=age > OLD)
    if age < timedelta():
        words = f"The last backup was made at {last.made_at:%Y-%m-%d %H:%M} UTC, which is still to come."
        yield Finding("Clock", words, wrong=True)
    try:
        with tempfile.TemporaryDirectory(dir=settings.DATA) as part:
            manifest = check(last.file, Path(part) / "check")
        yield Finding("Last backup", f"opened, {len(manifest.members)} checksums right, its database whole")
    except (BrokenBackup, CannotCopy, NotDone, OSError) as reason:
        yield Finding("Last backup", f"{last.file}: {reason}", wrong=True)
    if same_disk():
        yield Finding("Backups", f"{same_disk()} CAMBERBOOK_BACKUPS names another folder.", note=True)


def same_disk() -> str:
    """Say so if backups lie on the disk that they are there for."""
    try:
        same = settings.BACKUPS.stat().st_dev == settings.DATA.stat().st_dev
    except OSError:
        return ""
    return "They lie on the same disk as the shop's data: if it fails, both are gone." if same else ""


def in_words(age: timedelta) -> str:
    """Say how long ago something was."""
    hours = int(age.total_seconds() // 3600)
    if hours < 1:
        return "less than an hour"
    if hours < 48:
        return f"{hours} hours" if hours > 1 else "an hour"
    return f"{hours // 24} days"


def _fonts() -> Finding:
    missing = [str(weight) for weight in WEIGHTS if not font_file(weight).is_file()]
    return Finding("Fonts", f"missing: {', '.join(missing)}" if missing else "there", wrong=bool(missing))


def late_backup(now: datetime) -> str:
    """Say in one line that the last backup is too old, or that something daily was not done; "" if all is well."""
    for words, job in troubles():
        return f"The machine could not {words}: {job.trouble}"
    found = backups()
    if found and now - found[0].made_at > OLD:
        return f"The last backup is {in_words(now - found[0].made_at)} old."
    if not found and _has_worked_for_days(now):
        return "There is no backup yet."
    return ""


def _has_worked_for_days(now: datetime) -> bool:
    from shop.models import User

    return User.objects.filter(date_joined__lt=now - OLD).exists()
