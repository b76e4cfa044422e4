"""What the doctor looks at of what passes through the shop: its log, the clock, its sheets."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from boards.models import Blank, LogEntry
from boards.printing import PrintingFailed, Sheet, print_pdf
from boards.proof import troubles
from shop import pango
from shop.health import Finding

SAMPLE: Final = 500  # blanks: those that were changed last, among which a fault would be


def findings(now: datetime) -> Iterator[Finding]:
    """Look at the log, the clock and printing."""
    yield _clock(now)
    yield _log()
    yield _printing()


def _clock(now: datetime) -> Finding:
    newest = LogEntry.objects.order_by("-at").values_list("at", flat=True).first()
    if newest and newest > now + timedelta(minutes=2):
        words = (
            f"It is {now:%Y-%m-%d %H:%M} UTC by this machine, and the newest entry in the log was made at "
            f"{newest:%Y-%m-%d %H:%M} UTC. Set the clock; boards stand where they should, only times in their logs "
            "may be wrong."
        )
        return Finding("Clock", words, wrong=True)
    return Finding("Clock", f"{now:%Y-%m-%d %H:%M} UTC, later than all that is in the log.")


def _log() -> Finding:
    lately = LogEntry.objects.order_by("-pk").values_list("blank_id", flat=True)[: 4 * SAMPLE]
    sample = list(dict.fromkeys(lately))[:SAMPLE]
    blanks = Blank.objects.filter(pk__in=sample).prefetch_related("log")
    wrong = [f"{blank.number}: {trouble}" for blank in blanks for trouble in troubles(blank)]
    if wrong:
        return Finding("Log", f"{len(wrong)} things do not agree, first: {wrong[0]}. check_log lists all.", wrong=True)
    return Finding("Log", f"{len(sample)} blanks, those that changed last, stand where their logs say.")


def _printing() -> Finding:
    if not pango.printing_available():
        return Finding("Printing", f"off. {' '.join(pango.advice().split())}", wrong=True)
    try:
        pdf = print_pdf([Sheet("<p>A sheet to see whether printing works: 12 3/4, 305 mm.</p>")], "A sheet to try")
    except PrintingFailed as reason:
        return Finding("Printing", str(reason), wrong=True)
    if not pdf.startswith(b"%PDF-"):
        return Finding("Printing", "What came out is no PDF.", wrong=True)
    return Finding("Printing", f"works: a small sheet of {len(pdf)} bytes.")
