"""Copying a database while people work with it, and looking at a copy."""

from __future__ import annotations

import contextlib
import os
import shutil
import sqlite3
import subprocess
from dataclasses import dataclass
from pathlib import Path

from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder

# Whoever holds a session's key is signed in with it: a backup, which lies on a stick in a drawer, has none of them.
SESSIONS = "django_session"


class CannotCopy(Exception):
    """The database could not be copied or put back; the message says why, in words."""


@dataclass(frozen=True, slots=True)
class Copied:
    """What is in a copy: how many rows of each table, and which migrations had been applied."""

    counts: dict[str, int]
    migrations: dict[str, list[str]]


def copy(place: Path) -> Copied:
    """Write a copy of the shop's database, as it stands at one moment."""
    return _copy_sqlite(place) if connection.vendor == "sqlite" else _dump(place)


def _copy_sqlite(place: Path) -> Copied:
    # All pages in one step: one read transaction, during which others write on (in WAL mode readers hold nobody up).
    # In several steps it would start over whenever somebody writes. https://sqlite.org/backup.html
    with (
        contextlib.closing(sqlite3.connect(connection.settings_dict["NAME"], timeout=20)) as live,
        contextlib.closing(sqlite3.connect(place)) as made,
    ):
        live.backup(made)
        made.execute("PRAGMA journal_mode=DELETE")  # one file, with nothing beside it
        made.execute("PRAGMA secure_delete=ON")
        if made.execute("SELECT 1 FROM sqlite_master WHERE name = ?", [SESSIONS]).fetchone():
            made.execute(f"DELETE FROM {SESSIONS}")
        made.commit()
    return look_at(place)


def look_at(place: Path) -> Copied:
    """Check a copy through and through, and say what is in it."""
    try:
        with contextlib.closing(sqlite3.connect(f"{place.resolve().as_uri()}?mode=ro", uri=True)) as made:
            said = [row[0] for row in made.execute("PRAGMA integrity_check(5)")]
            if said != ["ok"]:
                raise CannotCopy(f"SQLite finds the copy damaged: {'; '.join(said)[:150]}.")
            loose = made.execute("PRAGMA foreign_key_check").fetchone()
            if loose:
                raise CannotCopy(f"A row of {loose[0]} points to one of {loose[2]} that is not there.")
            tables = [
                row[0]
                for row in made.execute(
                    "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name"
                )
            ]
            counts = {table: made.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0] for table in tables}
            rows = made.execute("SELECT app, name FROM django_migrations ORDER BY id").fetchall()
    except sqlite3.DatabaseError as error:
        raise CannotCopy(f"SQLite cannot read the copy: {error}.") from error
    return Copied(counts, _by_app(rows))


def _by_app(rows: list[tuple[str, str]]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for app, name in rows:
        found.setdefault(app, []).append(name)
    return found


def _dump(place: Path) -> Copied:
    # What is counted and what is dumped is one and the same moment: pg_dump joins this transaction's snapshot.
    # https://www.postgresql.org/docs/current/app-pgdump.html, --snapshot
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
        cursor.execute("SELECT pg_export_snapshot()")
        snapshot = cursor.fetchone()[0]
        counts = count_rows()
        migrations = _by_app(MigrationRecorder.Migration.objects.order_by("id").values_list("app", "name"))
        run_tool(
            "pg_dump",
            *("--format=custom", "--no-owner", "--no-privileges", "--schema=public", "--lock-wait-timeout=20000"),
            *(f"--exclude-table-data={SESSIONS}", f"--snapshot={snapshot}", f"--file={place}"),
        )
    return Copied(counts | {SESSIONS: 0}, migrations)


def count_rows() -> dict[str, int]:
    """Count the rows of each table of the database that is in use."""
    with connection.cursor() as cursor:
        counts = {}
        for table in sorted(connection.introspection.table_names(cursor)):
            cursor.execute(f"SELECT count(*) FROM {connection.ops.quote_name(table)}")
            counts[table] = cursor.fetchone()[0]
    return counts


def run_tool(tool: str, *arguments: str, on_database: bool = True) -> None:
    """Run one of PostgreSQL's own programs, on the shop's database or on a file. The password is in its environment."""
    from django.db.backends.postgresql.client import DatabaseClient

    found = shutil.which(tool)
    if found is None:
        raise CannotCopy(f"{tool} is not on this machine. It comes with PostgreSQL's client programs.")
    command, environment = DatabaseClient.settings_to_cmd_args_env(connection.settings_dict, [])
    *where, name = command[1:]
    target = [*where, f"--dbname={name}", "--no-password"] if on_database else []
    done = subprocess.run(
        [found, *target, *arguments],
        env={**os.environ, **(environment or {})},
        capture_output=True,
        text=True,
        errors="replace",
    )
    if done.returncode:
        last = (done.stderr.strip().splitlines() or [f"it ended with {done.returncode}"])[-1]
        raise CannotCopy(f"{tool} did not work: {last[:200]}")
