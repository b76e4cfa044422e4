"""`manage.py check_log`: prove that every blank stands where its log says."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from boards.models import Blank, replay


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


def troubles(blank: Blank) -> Iterator[str]:
    """Say in what a blank and its log do not agree."""
    entries = sorted(blank.log.all(), key=lambda entry: entry.number)
    if [entry.number for entry in entries] != list(range(1, len(entries) + 1)):
        yield f"its log has the entries {', '.join(str(entry.number) for entry in entries) or 'none'}; some are missing"
        return
    if blank.version != len(entries):
        yield f"its version is {blank.version}, its log has {len(entries)} entries"
    try:
        state, _ = replay(entries)
    except ValueError as error:
        yield f"its log cannot be followed: {error}"
        return
    for name in ("build_id", "pattern_id", "stages", "done", "condition"):
        kept, said = getattr(blank.state, name), getattr(state, name)
        if kept != said:
            yield f"{name} is {kept}, its log says {said}"
    if blank.in_rack != state.in_rack:
        yield f"in_rack is {blank.in_rack}, its log says {state.in_rack}"
    if blank.next_stage != state.next_stage:
        yield f"next_stage is {blank.next_stage or 'none'}, its log says {state.next_stage or 'none'}"
