"""What of the workshop is done once a day by itself."""

from __future__ import annotations

from datetime import datetime
from importlib import import_module

from django.conf import settings

from shop.daily import daily

BACKUP = "backup"


def register() -> None:
    """Enter the jobs."""
    daily(BACKUP, "make a backup", _back_up)
    daily("presses", "forget presses of long ago", _forget_presses)
    daily("sessions", "clear away sessions that have ended", _clear_sessions)


def _back_up(now: datetime) -> None:
    from shop.backup.making import make_backup

    make_backup(now)


def _forget_presses(now: datetime) -> None:
    from shop.models import Tap

    Tap.forget_old(now)


def _clear_sessions(now: datetime) -> None:
    import_module(settings.SESSION_ENGINE).SessionStore.clear_expired()
