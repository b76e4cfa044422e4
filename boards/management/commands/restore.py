"""`manage.py restore FILE`: put a backup back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from shop.backup.archive import BrokenBackup
from shop.backup.databases import CannotCopy
from shop.backup.restoring import NotRestored, restore
from shop.models import DailyJob


class Command(BaseCommand):
    """Put a backup back."""

    help = "Put a backup back into an empty place. Checks it first; bring the shop up to date and check its log after."

    def add_arguments(self, parser: CommandParser) -> None:
        """Say what can be typed after `restore`."""
        parser.add_argument("file", type=Path, help="the backup")
        parser.add_argument("--over", action="store_true", help="move aside the shop that is here; nothing is deleted")

    def handle(self, *, file: Path, over: bool, **options: Any) -> None:
        """Put it back, bring it up to date, prove it, and say what was done."""
        try:
            manifest = restore(file, timezone.localtime(), self.stdout.write, over=over)
        except (BrokenBackup, CannotCopy, NotRestored) as reason:
            raise CommandError(f"{file} was not put back. {reason}") from None
        except OSError as error:
            raise CommandError(f"{file} was not put back: {error.strerror or error}.") from None
        call_command("migrate", interactive=False, verbosity=0)
        DailyJob.objects.update(running_since=None)  # the backup itself was running when it was made
        call_command("check_log", stdout=self.stdout, stderr=self.stderr)
        made = timezone.localtime(manifest.made_at)
        self.stdout.write(f"The shop in {settings.DATA} is as it was on {made:%A, %d %B %Y, at %H:%M}.")
        self.stdout.write("Everybody signs in anew.")
