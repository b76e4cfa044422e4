"""What a backup is: a tar file, its first member a manifest that says what else is in it, with checksums.

    manifest.json      what is described by `Manifest`
    database.sqlite3   the database, a whole one of its own; or database.dump, what pg_dump wrote
    files/...          photographs and papers, as they lie in the data folder
    secret-key         only where it was asked for

The formats are open: tar and gzip are read everywhere, and an SQLite database opens in anything that knows SQLite.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
import tarfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Final

MANIFEST: Final = "manifest.json"
SQLITE, DUMP = "database.sqlite3", "database.dump"
KEY: Final = "secret-key"
FORMAT: Final = 1
_MEMBER = re.compile(r"database\.sqlite3|database\.dump|secret-key|files/[0-9a-f]{2}/[0-9a-f]{64}(-small)?\.[a-z]{3,4}")
_LARGEST_MANIFEST = 64 * 2**20  # a hundred bytes for each photograph


class BrokenBackup(Exception):
    """A file is no backup, or not whole any more; the message says in what way."""


@dataclass(frozen=True, slots=True)
class Member:
    """One file in a backup."""

    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class Manifest:
    """What a backup says of itself."""

    made_at: datetime
    version: str
    database: str  # sqlite or postgresql
    migrations: dict[str, list[str]]
    counts: dict[str, int]
    members: dict[str, Member]

    @property
    def size(self) -> int:
        """How many bytes all members have, unpacked."""
        return sum(member.size for member in self.members.values())

    @property
    def data(self) -> str:
        """Name the member that holds the database."""
        return SQLITE if self.database == "sqlite" else DUMP

    @property
    def files(self) -> list[str]:
        """Name the photographs and papers."""
        return [name for name in self.members if name.startswith("files/")]

    def as_json(self) -> bytes:
        """Write it."""
        said = asdict(self) | {"made_at": self.made_at.isoformat(), "backup_of": "Camberbook", "format": FORMAT}
        return json.dumps(said, indent=1).encode()

    @classmethod
    def of_json(cls, text: bytes) -> Manifest:
        """Read it, and refuse what was not written by `as_json`."""
        try:
            said = json.loads(text)
            if said.pop("backup_of") != "Camberbook":
                raise BrokenBackup("It is a backup of something else.")
            if said.pop("format") > FORMAT:
                raise BrokenBackup(
                    "It was made by a newer release of this program. Bring the program up to date first."
                )
            members = {name: Member(**member) for name, member in said.pop("members").items()}
            manifest = cls(made_at=datetime.fromisoformat(said.pop("made_at")), members=members, **said)
        except (ValueError, KeyError, TypeError, AttributeError) as error:
            raise BrokenBackup("It does not say of itself what it is, so it is no backup of a shop.") from error
        strange = [name for name in manifest.members if not is_member(name)]
        if strange or manifest.data not in manifest.members:
            raise BrokenBackup("What it says is in it is not what a backup holds.")
        return manifest


def is_member(name: str) -> bool:
    """Tell whether this can be the name of something in a backup."""
    return _MEMBER.fullmatch(name) is not None


def checksum(content: IO[bytes], out: IO[bytes] | None = None) -> Member:
    """Read a file to its end, into another where one is given; say how long it is and what its checksum is."""
    seen, size = hashlib.sha256(), 0
    while piece := content.read(2**20):
        seen.update(piece)
        if out is not None:
            out.write(piece)
        size += len(piece)
    return Member(size, seen.hexdigest())


def write(out: IO[bytes], manifest: Manifest, places: dict[str, Path]) -> None:
    """Write a backup. A file that is not what its checksum says, as it was changed meanwhile, stops it."""
    # Photographs are packed already, and a database packs well at any level: the quickest will do.
    with tarfile.open(fileobj=out, mode="w:gz", compresslevel=1, format=tarfile.PAX_FORMAT) as tar:
        _add(tar, MANIFEST, io.BytesIO(said := manifest.as_json()), len(said), manifest.made_at)
        for name, member in manifest.members.items():
            with places[name].open("rb") as content:
                _add(tar, name, content, member.size, manifest.made_at)


def _add(tar: tarfile.TarFile, name: str, content: IO[bytes], size: int, at: datetime) -> None:
    info = tarfile.TarInfo(name)
    info.size, info.mode, info.mtime = size, 0o600, int(at.timestamp())
    tar.addfile(info, content)


@contextmanager
def _opened(file: Path) -> Iterator[tarfile.TarFile]:
    try:
        with tarfile.open(file, "r:gz") as tar:
            yield tar
    except (tarfile.TarError, EOFError, zlib.error) as error:
        raise BrokenBackup("It is cut short or damaged, or it is no backup.") from error
    except OSError as error:
        if error.errno is None:  # gzip's own: not a gzip file, or a wrong CRC
            raise BrokenBackup("It is cut short or damaged, or it is no backup.") from error
        raise BrokenBackup(f"It cannot be read: {error.strerror}.") from error


def _first(tar: tarfile.TarFile) -> Manifest:
    info = tar.next()
    if info is None or info.name != MANIFEST or not info.isreg() or info.size > _LARGEST_MANIFEST:
        raise BrokenBackup("It does not say of itself what it is, so it is no backup of a shop.")
    return Manifest.of_json(tar.extractfile(info).read())


def read_manifest(file: Path) -> Manifest:
    """Read what a backup says of itself, which costs little: it stands first."""
    with _opened(file) as tar:
        return _first(tar)


def unpack(file: Path, folder: Path, *, wanted: Callable[[str], bool] = lambda name: True) -> Manifest:
    """Hold every member of a backup against its checksum, and put what is wanted of it into a folder.

    Nothing that an archive says leads out of the folder: only names that a backup can hold are written, as plain files.
    """
    with _opened(file) as tar:
        manifest = _first(tar)
        left = dict(manifest.members)
        while (info := tar.next()) is not None:
            member = left.pop(info.name, None)
            if member is None or not info.isreg():
                raise BrokenBackup(f"It holds something that it does not speak of: {info.name[:90]!r}.")
            content = tar.extractfile(info)
            if wanted(info.name):
                place = folder / info.name
                place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
                with place.open("xb") as out:
                    place.chmod(0o600)
                    found = checksum(content, out)
                    out.flush()
                    os.fsync(out.fileno())
            else:
                found = checksum(content)
            if found != member:
                raise BrokenBackup(f"{info.name[:90]} in it is not what was written: its checksum is another one.")
        while tar.fileobj.read(2**20):  # to the very end, where gzip has its checksum of all of it
            pass
    if left:
        raise BrokenBackup(f"{len(left)} of the files that it speaks of are missing in it.")
    return manifest
