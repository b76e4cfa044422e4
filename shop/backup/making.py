"""Making a backup while people work."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from datetime import datetime
from pathlib import Path
from typing import Final

from django.conf import settings
from django.db import connection

from shop import __version__, startup
from shop.backup import archive
from shop.backup.archive import BrokenBackup, Manifest, Member
from shop.backup.databases import CannotCopy, Copied, copy, look_at, run_tool
from shop.backup.folder import Backup, name_for, thin_out
from shop.daily import NotDone

SPARE: Final = 64 * 2**20  # bytes that a backup leaves free, so that it never is what fills the disk
TRIES: Final = 3


def make_backup(now: datetime, folder: Path | None = None, *, with_key: bool = False) -> Backup:
    """Make a backup, check it, give it its name, and thin out old ones.

    It has another name until it is whole, on the disk and checked, so that what bears the name of a backup is one.
    Raises `NotDone` with words for people; then nothing is left behind.
    """
    folder = folder or settings.BACKUPS
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with startup.hold(settings.DATA / "backup.lock", "Another backup is being made. Waiting for it."):
            _sweep(folder)
            with tempfile.TemporaryDirectory(prefix=_prefix(), dir=folder) as part:
                made = _write(now, Path(part), folder, with_key=with_key)
            thin_out(folder)
            return made
    except (CannotCopy, BrokenBackup) as reason:
        raise NotDone(str(reason)) from reason
    except OSError as error:
        raise NotDone(f"{folder} cannot be used: {error.strerror or error}.") from error


def _prefix() -> str:
    """Name half-made ones after the data that they are of: several shops may keep backups in one folder."""
    return f".part-{hashlib.sha256(str(settings.DATA).encode()).hexdigest()[:8]}-"


def _sweep(folder: Path) -> None:
    """Take away what a backup left that was broken off; the lock says that none is being made."""
    for left in folder.glob(f"{_prefix()}*"):
        shutil.rmtree(left, ignore_errors=True)


def _write(now: datetime, part: Path, folder: Path, *, with_key: bool) -> Backup:
    whole = part / "backup.tar.gz"
    _see_room(folder)
    for tried in range(TRIES):
        try:
            copied, places = _gather(part / f"database-{tried}", with_key=with_key)
            manifest = _describe(now, copied, places)
            with whole.open("wb") as out:
                whole.chmod(0o600)
                archive.write(out, manifest, places)
                out.flush()
                os.fsync(out.fileno())
            break
        except FileNotFoundError:
            continue
    else:
        raise NotDone("Photographs were taken away while they were copied, each time. Try again in a while.")
    check(whole, part / "check", manifest)
    return _give_name(whole, folder, now)


def _see_room(folder: Path) -> None:
    """Refuse before anything is written where there may be no room: for the copy, the archive, the copy to check."""
    database = 0
    if connection.vendor == "sqlite":
        name = Path(connection.settings_dict["NAME"])
        beside = (name, name.with_name(f"{name.name}-wal"))
        database = sum(file.stat().st_size for file in beside if file.exists())
    needed = 3 * database + sum(place.stat().st_size for place in _files().values()) + SPARE
    free = shutil.disk_usage(folder).free
    if free < needed:
        raise NotDone(
            f"There is no room for a backup in {folder}: {free // 2**20} MB are free, and it may take "
            f"{needed // 2**20} MB while it is made."
        )


def _files() -> dict[str, Path]:
    """List what people brought, by the name that it has in a backup."""
    places = sorted((settings.DATA / "files").glob("??/*"))
    named = {f"files/{place.parent.name}/{place.name}": place for place in places}
    return {name: place for name, place in named.items() if archive.is_member(name)}


def _gather(database: Path, *, with_key: bool) -> tuple[Copied, dict[str, Path]]:
    """Copy the database, and list what else goes in: what lay there before as well as after.

    Files are never changed, only added and taken away. One that the database speaks of was there before the copy or
    came while it was made; one that is taken away before it is in makes the whole of it begin anew.
    """
    before = _files()
    copied = copy(database)
    places = {archive.SQLITE if connection.vendor == "sqlite" else archive.DUMP: database, **before, **_files()}
    if with_key:
        places[archive.KEY] = settings.DATA / archive.KEY
    return copied, places


def _describe(now: datetime, copied: Copied, places: dict[str, Path]) -> Manifest:
    members: dict[str, Member] = {}
    for name, place in places.items():
        with place.open("rb") as content:
            members[name] = archive.checksum(content)
    return Manifest(now, __version__, connection.vendor, copied.migrations, copied.counts, members)


def check(file: Path, folder: Path, wanted: Manifest | None = None) -> Manifest:
    """Open a backup as whoever needs it would: every checksum, and the database in it. `folder` is made, and goes."""
    folder.mkdir()
    manifest = archive.unpack(file, folder, wanted=lambda name: name in (archive.SQLITE, archive.DUMP))
    if wanted is not None and manifest != wanted:
        raise BrokenBackup("What was written is not what was to be written.")
    if manifest.database != "sqlite":
        run_tool("pg_restore", "--list", str(folder / archive.DUMP), on_database=False)
    elif look_at(folder / archive.SQLITE).counts != manifest.counts:
        raise BrokenBackup("The database in it has other rows than it says.")
    shutil.rmtree(folder)
    return manifest


def _give_name(whole: Path, folder: Path, now: datetime) -> Backup:
    place = folder / name_for(now)
    if place.exists():
        raise NotDone("A backup was made this very second.")
    size = whole.stat().st_size
    os.replace(whole, place)
    if os.name != "nt":  # the name as well outlives a pulled plug
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
    return Backup(place, now.replace(microsecond=0), size)
