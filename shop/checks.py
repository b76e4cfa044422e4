"""What `manage.py check --deploy` says about this machine, besides Django's own."""

from __future__ import annotations

import sqlite3
from typing import Any

from django.core import checks
from django.db import connection

SOUND_WAL = (3, 51, 3)


def sqlite_wal(app_configs: Any, **kwargs: Any) -> list[checks.CheckMessage]:
    """Tell that this SQLite has the rare fault in its write-ahead log that 3.51.3 mended (3.7.0 to 3.51.2 have it).

    Only told, not warned of: few systems have a newer one yet, and nothing but a backup helps until they do.
    """
    if connection.vendor != "sqlite" or sqlite3.sqlite_version_info >= SOUND_WAL:
        return []
    return [
        checks.Info(
            f"The SQLite here is {sqlite3.sqlite_version}. Before {'.'.join(map(str, SOUND_WAL))} a rare fault "
            "can damage a database that several programs write to at once.",
            hint="Keep backups, run one server, and take a newer SQLite when this system has one.",
            id="shop.I001",
        )
    ]
