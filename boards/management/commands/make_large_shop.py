"""`manage.py make_large_shop`: fill an empty shop with many years of work, to see how its lists bear that."""

from __future__ import annotations

from argparse import ArgumentParser
from random import Random
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from boards import demo
from boards.large_shop import NoRoom, Size, fill

NUMBERS = (
    ("blanks", 20_000, "blanks in all"),
    ("entries", 200_000, "log entries in all"),
    ("in-work", 200, "boards that wait at a bench"),
    ("in-rack", 400, "blanks that lie in the rack"),
    ("waiting", 40, "builds that wait for a blank"),
    ("seed", 648, "another number makes another shop of the same size"),
)


class Command(BaseCommand):
    """Make a shop with a long past."""

    help = "Fill an empty shop with a made-up one that has worked for many years."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Ask how large."""
        for name, usual, words in NUMBERS:
            parser.add_argument(f"--{name}", type=int, default=usual, metavar="N", help=f"{words} ({usual})")

    def handle(self, **options: Any) -> None:
        """Make it, unless somebody works here already."""
        if not settings.DEMO:
            raise CommandError(
                "The demo's account, which this shop has, has a password that everybody can read. Set "
                "CAMBERBOOK_DEMO=yes, and CAMBERBOOK_DATA to a folder of its own."
            )
        if not demo.is_empty():
            raise CommandError(f"There is a shop in {settings.DATA} already. Nothing was changed.")
        below = [name for name, *_ in NUMBERS if options[name.replace("-", "_")] < 0]
        if below:
            raise CommandError(f"--{below[0]} cannot be negative.")
        size = Size(*(options[name] for name in ("blanks", "entries", "in_work", "in_rack", "waiting")))
        try:
            fill(size, now=timezone.now(), random=Random(options["seed"]))
        except NoRoom as trouble:
            raise CommandError(str(trouble)) from trouble
        self.stdout.write(f"{size.blanks} blanks with {size.entries} log entries.")
