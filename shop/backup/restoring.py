"""Putting a backup back: into an empty place, or instead of what is there, which is moved aside and never deleted."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.db import connection, transaction
from django.db.migrations.loader import MigrationLoader

from shop import serving
from shop.backup import archive
from shop.backup.archive import Manifest
from shop.backup.databases import count_rows, look_at, run_tool

Say = Callable[[str], None]


class NotRestored(Exception):
    """Nothing was put back, and nothing changed; the message says why."""


def restore(file: Path, now: datetime, say: Say, *, over: bool = False) -> Manifest:
    """Check a backup, then put it in place, all of it or nothing.

    What has to be right is looked at before anything is touched: what the backup says of itself, its checksums, its
    release, the database in it, whether a shop is here already, and whether somebody is serving it.
    """
    manifest = archive.read_manifest(file)
    _see_whether_it_fits(manifest)
    with serving.nobody_serves(settings.DATA) as alone:
        if not alone:
            raise NotRestored("The shop is being served from this data. Stop that first.")
        if (found := _there_already()) and not over:
            raise NotRestored(
                f"There is a shop here already: {found}. With --over it is moved aside and the backup put in its place."
            )
        with tempfile.TemporaryDirectory(prefix=".restore-", dir=settings.DATA) as part:
            archive.unpack(file, Path(part))
            say(f"The checksums of {len(manifest.members)} files are right.")
            if manifest.database == "sqlite" and look_at(Path(part) / archive.SQLITE).counts != manifest.counts:
                raise NotRestored("The database in it has other rows than it says.")
            aside = settings.DATA / f"before-restore-{now:%Y%m%d-%H%M%S}"
            _swap(manifest, Path(part), aside)
        if aside.is_dir():
            say(f"What was here lies in {aside}.")
    rows, tables = sum(manifest.counts.values()), len(manifest.counts)
    say(f"{rows} rows in {tables} tables and {len(manifest.files)} photographs and papers are back.")
    return manifest


def _see_whether_it_fits(manifest: Manifest) -> None:
    if manifest.database != connection.vendor:
        raise NotRestored(
            f"It is of a shop on {manifest.database}, and this one is on {connection.vendor}. Put it back with a "
            "DATABASE_URL of that kind first; `manage.py move` carries a shop over from one to the other."
        )
    ours = MigrationLoader(None, ignore_no_migrations=True).disk_migrations
    known = {app for app, _ in ours}
    newer = [
        f"{app}.{name}"
        for app, names in manifest.migrations.items()
        for name in names
        if app in known and (app, name) not in ours
    ]
    if newer:
        raise NotRestored(
            f"It was made by a newer release of this program ({newer[-1]} is not known here). Bring the program up to "
            "date first."
        )


def _there_already() -> str:
    """Say what of a shop is here; an empty database, as a first start makes it, is none."""
    found = []
    if connection.vendor == "sqlite" and not Path(connection.settings_dict["NAME"]).exists():
        rows = 0
    else:
        counts = count_rows()
        rows = sum(counts.get(table, 0) for table in ("shop_user", "boards_blank", "shop_build", "shop_pattern"))
        if connection.vendor == "sqlite" and not counts and Path(connection.settings_dict["NAME"]).stat().st_size:
            found.append("a file with the name of the database")
    if rows:
        found.append("people, builds or blanks in the database")
    if any((settings.DATA / "files").glob("??/*")):
        found.append(f"photographs and papers in {settings.DATA / 'files'}")
    connection.close()
    return " and ".join(found)


def _swap(manifest: Manifest, part: Path, aside: Path) -> None:
    """Move aside what is here, then put in place what was unpacked; the database last, as it makes a shop of it."""
    for name in ("files", archive.KEY):
        if name != archive.KEY or (part / name).exists():  # without one in the backup the key that is here stays
            _move_aside(settings.DATA / name, aside)
        if (part / name).exists():
            os.replace(part / name, settings.DATA / name)
    if manifest.database == "sqlite":
        _swap_sqlite(part / archive.SQLITE, aside)
    else:
        _swap_postgresql(part / archive.DUMP, aside)


def _move_aside(there: Path, aside: Path) -> None:
    if there.exists():
        aside.mkdir(mode=0o700, exist_ok=True)
        shutil.move(there, aside / there.name)


def _swap_sqlite(new: Path, aside: Path) -> None:
    live = Path(connection.settings_dict["NAME"])
    if live.exists():
        with closing(sqlite3.connect(live)) as old:  # what is in the log beside it goes into the file itself
            old.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    for ending in ("", "-wal", "-shm"):
        _move_aside(live.with_name(live.name + ending), aside)
    live.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    beside = live.with_name(f"{live.name}.part")
    shutil.move(new, beside)  # it may lie on another disk than the data folder
    os.replace(beside, live)


def _swap_postgresql(new: Path, aside: Path) -> None:
    with transaction.atomic(), connection.cursor() as cursor:
        if connection.introspection.table_names(cursor):
            old = aside.name.replace("-", "_")
            cursor.execute(f"ALTER SCHEMA public RENAME TO {connection.ops.quote_name(old)}")
            cursor.execute("CREATE SCHEMA public")
    connection.close()
    how = ("--no-owner", "--no-privileges", "--single-transaction", "--exit-on-error", "--schema=public")
    run_tool("pg_restore", *how, str(new))
