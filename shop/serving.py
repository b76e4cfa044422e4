"""Whether somebody serves the pages from a data folder: a lock that falls open by itself when its holders end."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO


@contextmanager
def serving(folder: Path) -> Iterator[None]:
    """Hold the folder as one of those who serve from it."""
    with _lock_file(folder) as lock:
        _try(lock, alone=False)
        yield


@contextmanager
def nobody_serves(folder: Path) -> Iterator[bool]:
    """Hold the folder alone, if nobody serves from it; tell whether that is so."""
    with _lock_file(folder) as lock:
        yield _try(lock, alone=True)


def _lock_file(folder: Path) -> IO[str]:
    return open(folder / "serving.lock", "a", encoding="ascii")  # noqa: SIM115 - its users close it


def _try(lock: IO[str], *, alone: bool) -> bool:
    try:
        if os.name == "nt":  # where a lock is always for one alone
            import msvcrt

            msvcrt.locking(lock.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(lock, (fcntl.LOCK_EX if alone else fcntl.LOCK_SH) | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
