"""The settings of a server to which faults are done: little patience with locks, and a clock that can be set.

What stands in the file `clock` in the data folder, in seconds, is how far the clock is set forward or back.
"""

from datetime import datetime, timedelta

from django.utils import timezone

from shop.settings import *  # noqa: F403
from shop.settings import DATA, DATABASES

if DATABASES["default"]["ENGINE"].endswith("sqlite3"):
    DATABASES["default"]["OPTIONS"]["timeout"] = 1

_now = timezone.now


def _set_clock() -> datetime:
    clock = DATA / "clock"
    return _now() + timedelta(seconds=float(clock.read_text()) if clock.exists() else 0)


timezone.now = _set_clock
