"""`manage.py daily`: what is done once a day, for cron; `serve` does it by itself."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.daily import do_due, jobs


class Command(BaseCommand):
    """Do what is due today."""

    help = "Do what is done once a day and is not done yet. serve does that by itself; this is for cron."

    def add_arguments(self, parser: CommandParser) -> None:
        """Say what can be typed after `daily`."""
        parser.add_argument("--now", action="store_true", help="also what was done today already")

    def handle(self, *, now: bool, **options: Any) -> None:
        """Do it, and end with 1 if anything could not be done."""
        done = do_due(at_once=now)
        for job in jobs():
            self.stdout.write(f"{job.name}: {done.get(job.name, 'not due, or somebody is at it') or 'done'}")
        if any(done.values()):
            raise CommandError("Not everything could be done.")
