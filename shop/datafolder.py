"""The folder of what a shop would not want to lose: database, secret key, backups. It lies outside the checkout."""

from __future__ import annotations

import contextlib
import os
import sys
import tempfile
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured
from django.core.management.utils import get_random_secret_key


def default_folder() -> Path:
    """Return `camberbook` in the user's data folder, as the system's convention has it."""
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local"
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Application Support"
    else:
        base = os.environ.get("XDG_DATA_HOME", "")
        if not os.path.isabs(base):  # the convention: a relative path counts as not set
            base = Path.home() / ".local" / "share"
    return Path(base) / "camberbook"


def make_folder(folder: Path) -> None:
    """Make the folder, for this user only, if it is not there."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise ImproperlyConfigured(
            f"The data folder {folder} cannot be made: {error.strerror}. CAMBERBOOK_DATA can name another."
        ) from None


def make_private(file: Path) -> None:
    """Make an empty file that this user alone may read, if there is none; what SQLite lays beside it is as private."""
    with contextlib.suppress(OSError):  # a file that is there stays as it is; where none can be made SQLite says so
        os.close(os.open(file, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))


def secret_key(folder: Path) -> str:
    """Return the key that is kept in the folder; make it on the first start.

    Two first starts at once agree: the key is written whole to a file of its own, then linked to its name,
    and a link never replaces what is there.
    """
    file = folder / "secret-key"
    try:
        if not file.exists():
            _make_key(file)
        key = file.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not a key"
        raise ImproperlyConfigured(f"The secret key in {file} cannot be read or made: {reason}.") from None
    if len(key) < 50:
        raise ImproperlyConfigured(
            f"The secret key in {file} is cut short. Delete the file; a new key signs everybody out once."
        )
    return key


def _make_key(file: Path) -> None:
    handle, part = tempfile.mkstemp(dir=file.parent)  # opened with O_EXCL and mode 600
    try:
        with os.fdopen(handle, "w", encoding="ascii") as out:
            out.write(get_random_secret_key())
            out.flush()
            os.fsync(out.fileno())
        with contextlib.suppress(FileExistsError):  # another start was first, and its key is the one
            os.link(part, file)
    finally:
        os.unlink(part)
