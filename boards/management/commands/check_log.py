"""`manage.py check_log`: prove that every blank stands where its log says."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from boards.models import Blank
from boards.proof import troubles


class Command(BaseCommand):
    """Hold the columns of every blank against its log."""

    help = "Prove that every blank stands where its log says. Ends with 1 and names those that do not."

    def handle(self, **options: Any) -> None:
        """Check all blanks, and say which are wrong in what."""
        checked, wrong = 0, 0
        for blank in Blank.objects.order_by("number").prefetch_related("log").iterator(chunk_size=500):
            checked += 1
            for trouble in troubles(blank):
                wrong += 1
                self.stderr.write(f"{blank.number}: {trouble}")
        if wrong:
            raise CommandError(f"{wrong} things do not agree in {checked} blanks.")
        self.stdout.write(f"{checked} blanks stand where their logs say.")
