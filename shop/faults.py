"""What is wrong with the machine when a page fails: the disk, its rights, a lock, a database that is away."""

from __future__ import annotations

import errno
from dataclasses import dataclass
from typing import Final

from django.db import InterfaceError, OperationalError


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault in words: what is wrong, what to do, and after how many seconds to try again."""

    heading: str
    words: str
    seconds: int


BUSY: Final = Fault(
    "The shop's machine is busy",
    "Another program holds the shop's data. Wait a moment, then send it again.",
    10,
)
FULL: Final = Fault(
    "The disk of the shop's machine is full",
    "Nothing can be written until there is room on it. Backups and downloads are what to look at first.",
    60,
)
READ_ONLY: Final = Fault(
    "The shop's data cannot be written",
    "Its folder or its disk is set to reading only, or is not there. What is there may still be looked at.",
    60,
)
DISK: Final = Fault(
    "The disk of the shop's machine has a fault",
    "Reading or writing failed. See that a backup is at hand, then start the machine again.",
    60,
)
DAMAGED: Final = Fault(
    "The shop's data cannot be read",
    "What stands in the database's file is not whole. A backup has to be put back.",
    600,
)
AWAY: Final = Fault(
    "The shop's database does not answer",
    "The machine that it runs on may be starting, or the network to it may be down.",
    10,
)

# Result codes of SQLite by the beginning of their names: https://sqlite.org/rescode.html
_SQLITE = {
    "SQLITE_BUSY": BUSY,
    "SQLITE_LOCKED": BUSY,
    "SQLITE_FULL": FULL,
    "SQLITE_READONLY": READ_ONLY,
    "SQLITE_CANTOPEN": READ_ONLY,
    "SQLITE_PERM": READ_ONLY,
    "SQLITE_IOERR": DISK,
    "SQLITE_CORRUPT": DAMAGED,
    "SQLITE_NOTADB": DAMAGED,
}
# SQLSTATE of PostgreSQL by class or code: https://www.postgresql.org/docs/current/errcodes-appendix.html
_POSTGRESQL = {
    "55P03": BUSY,  # lock_not_available
    "57014": BUSY,  # query_canceled: a statement that waited too long
    "40": BUSY,  # transaction rollback: deadlocks and the like
    "53100": FULL,  # disk_full
    "53": AWAY,  # insufficient resources: too many connections, out of memory
    "25006": READ_ONLY,  # read_only_sql_transaction
    "57P": AWAY,  # shut down, starting up
    "08": AWAY,  # connection exception
    "58": DISK,  # system error
    "XX001": DAMAGED,  # data_corrupted
    "XX002": DAMAGED,  # index_corrupted
}
_SYSTEM = {
    errno.ENOSPC: FULL,
    errno.EDQUOT: FULL,
    errno.EFBIG: FULL,
    errno.EROFS: READ_ONLY,
    errno.EACCES: READ_ONLY,
    errno.EPERM: READ_ONLY,
    errno.EIO: DISK,
}


def fault_of(error: BaseException | None) -> Fault | None:
    """Say which fault of the machine an error tells of; none if it is the program's own.

    What SQLite or a driver says first is followed by what else fails because of it, so those before it are looked at.
    """
    seen: set[int] = set()
    while error is not None and id(error) not in seen:
        seen.add(id(error))
        if (found := _fault_of_one(error)) is not None:
            return found
        error = error.__cause__ or error.__context__
    return None


def _fault_of_one(error: BaseException) -> Fault | None:
    if (name := getattr(error, "sqlite_errorname", None)) is not None:
        return next((fault for start, fault in _SQLITE.items() if name.startswith(start)), None)
    if (state := getattr(error, "sqlstate", None)) is not None:
        return next((_POSTGRESQL[state[:length]] for length in (5, 3, 2) if state[:length] in _POSTGRESQL), None)
    if isinstance(error, (OperationalError, InterfaceError)):  # a driver that could not even be told why
        return AWAY if type(error.__cause__).__module__.startswith("psycopg") else None
    return _SYSTEM.get(error.errno or 0) if isinstance(error, OSError) else None
