"""`manage.py doctor`: whether the shop's machine is well, and what to see to."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.db import DatabaseError
from django.utils import timezone

from boards import health as boards_health
from shop import health


class Command(BaseCommand):
    """Look at everything that a shop's machine stands on."""

    help = (
        "Look at versions, disk, database, backups, clock, fonts, printing and log. Ends with 1 if anything is wrong."
    )

    def handle(self, **options: Any) -> str | None:
        """Print what is found: a word for how it is, what it is about, and the finding."""
        wrong = 0
        now = timezone.now()
        for look in (health.findings, boards_health.findings):
            try:
                for finding in look(now):
                    wrong += finding.wrong
                    word = "WRONG" if finding.wrong else "note" if finding.note else "good"
                    self.stdout.write(f"{word:<6} {finding.what}: {finding.words}")
            except DatabaseError as error:
                wrong += 1
                self.stdout.write(f"WRONG  Database: it cannot be used: {error}")
        self.stdout.write(
            "One thing is to be seen to."
            if wrong == 1
            else f"{wrong} things are to be seen to."
            if wrong
            else "All is well."
        )
        if wrong:
            raise SystemExit(1)
