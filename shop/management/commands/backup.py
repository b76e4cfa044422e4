"""`manage.py backup`: everything that the shop entered, in one file, while people work."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from shop.backup.making import make_backup
from shop.daily import NotDone


class Command(BaseCommand):
    """Make a backup."""

    help = "Write everything that the shop entered into one file, checked, while people work. Thins out old ones."

    def add_arguments(self, parser: CommandParser) -> None:
        """Say what can be typed after `backup`."""
        parser.add_argument("folder", nargs="?", type=Path, help=f"where to ({settings.BACKUPS})")
        parser.add_argument(
            "--with-key",
            action="store_true",
            help="put the secret key in as well: nobody has to sign in anew where it is put back, and whoever finds "
            "the file can sign in as anybody",
        )

    def handle(self, *, folder: Path | None, with_key: bool, **options: Any) -> None:
        """Make it, and say where it is."""
        folder = folder.expanduser().absolute() if folder else settings.BACKUPS
        try:
            made = make_backup(timezone.now(), folder, with_key=with_key)
        except NotDone as reason:
            raise CommandError(f"No backup was made. {reason}") from None
        self.stdout.write(f"{made.file}: {made.size / 2**20:.1f} MB, checked.")
