"""`manage.py print_batch ID`: print a batch of travellers. The pages start it; nobody types it."""

from __future__ import annotations

import contextlib
import os
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from boards.batches import print_batch
from boards.models import Batch


class Command(BaseCommand):
    """Print a batch."""

    help = "Print a batch of travellers. The pages start it by themselves."

    def add_arguments(self, parser: CommandParser) -> None:
        """Say what can be typed after `print_batch`."""
        parser.add_argument("batch")

    def handle(self, *, batch: str, **options: Any) -> None:
        """Print it, after whatever else this machine has to do."""
        with contextlib.suppress(AttributeError, OSError):  # not on every system
            os.nice(10)
        found = Batch.objects.select_related("by").get(pk=batch)
        try:
            print_batch(found)
        except BaseException:
            found.end(Batch.State.FAILED, "It could not be printed; the reason stands in the log.")
            raise
