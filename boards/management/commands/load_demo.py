"""`manage.py load_demo`: fill an empty shop with the demo's."""

from __future__ import annotations

from random import Random
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from boards import demo

SEED = 648  # the same shop at every start


class Command(BaseCommand):
    """Load the demo."""

    help = "Fill an empty shop with a made-up one. `serve --demo` does it by itself, in data of its own."

    def handle(self, **options: Any) -> None:
        """Load it, unless somebody works here already."""
        if not settings.DEMO:
            raise CommandError(
                "The demo's account has a password that everybody can read. Start the demo with `serve --demo`: it has "
                "data of its own. For this command, set CAMBERBOOK_DEMO=yes."
            )
        if not demo.is_empty():
            raise CommandError(f"There is a shop in {settings.DATA} already. Nothing was changed.")
        demo.load(now=timezone.now(), random=Random(SEED))
