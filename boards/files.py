"""Files that people bring: kept once, under a name made of what is in them, in the data folder."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import tempfile
from datetime import datetime
from pathlib import Path

from django.conf import settings
from django.http import FileResponse, Http404, HttpResponse

_NAME = re.compile(r"[0-9a-f]{64}(-small)?\.(jpg|png|pdf)\Z")
_HALF_WRITTEN_SECONDS = 3600
SMALL_SIDE = 480  # px, of the small version of a picture
TYPES = {"jpg": "image/jpeg", "png": "image/png", "pdf": "application/pdf"}


def folder() -> Path:
    """Say in which folder they lie."""
    return settings.DATA / "files"


def name_of(content: bytes, ending: str) -> str:
    """Name a file after what is in it, so that the same one is never kept twice."""
    return f"{hashlib.sha256(content).hexdigest()}.{ending}"


def small(name: str) -> str:
    """Name the small version of a picture."""
    stem, _, ending = name.rpartition(".")
    return f"{stem}-small.{ending}"


def place_of(name: str) -> Path:
    """Say where a file lies. Only names that we gave lead anywhere."""
    if not _NAME.match(name):
        raise ValueError(f"{name[:90]!r} is no name of a file of ours.")
    return folder() / name[:2] / name


def keep(content: bytes, name: str) -> None:
    """Write a file, whole or not at all; one that is there already stays as it is."""
    place = place_of(name)
    if place.exists():
        return
    place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    handle, part = tempfile.mkstemp(dir=place.parent)  # mode 600
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        os.replace(part, place)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(part)
        raise


def forget(name: str) -> None:
    """Drop a file, and its small version if it has one."""
    for each in (name, small(name)):
        with contextlib.suppress(OSError):
            place_of(each).unlink()


def sweep(now: datetime) -> int:
    """Take away what was never written to its end, as the machine was switched off meanwhile. Returns how many."""
    left = [part for part in folder().glob("??/tmp*") if not _NAME.match(part.name)]
    # A recent one may be about to be given its name.
    old = [part for part in left if abs(now.timestamp() - part.stat().st_mtime) > _HALF_WRITTEN_SECONDS]
    for part in old:
        part.unlink(missing_ok=True)
    return len(old)


def hand_out(name: str, *, called: str = "") -> HttpResponse:
    """Send a file. Its name says what is in it, so a browser may keep it; `called` is what it is saved as."""
    try:
        content = place_of(name).open("rb")
    except (OSError, ValueError):
        raise Http404("There is no such file in the data folder.") from None
    response = FileResponse(content, content_type=TYPES[name.rpartition(".")[2]], as_attachment=bool(called),
                            filename=called)  # fmt: skip
    response.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    # Whatever somebody has brought: it is looked at, and nothing in it runs.
    response.headers["Content-Security-Policy"] = (
        "sandbox; default-src 'none'; img-src 'self'; style-src 'unsafe-inline'"
    )
    return response
