"""What has left a bench while a page stood open on a tablet, and what has come."""

from __future__ import annotations

from datetime import datetime

from django.db.models import F, Q
from django.http import HttpRequest, JsonResponse
from django.utils import timezone
from django.utils.formats import date_format, time_format
from django.views.decorators.http import require_GET

from boards.actions import get_stage, word_asked
from boards.models import Blank, Kind, LogEntry

MOST = 500  # rows of a page that are asked about


@require_GET
def bench_news(request: HttpRequest, stage: str) -> JsonResponse:
    """Say which boards wait here, and of those that the page shows and that do not, where they have gone.

    A page asks every few seconds, so nothing is worked out for it: two queries, however many boards there are.
    """
    key = get_stage(stage).key
    here = list(Blank.objects.ready_for(key).order_by("number").values_list("number", flat=True))
    gone = set(word_asked(request, "shown", 25 * MOST).split(",")[:MOST]) - set(here) - {""}
    return JsonResponse({"here": here, "gone": where_they_went(gone, key, timezone.localtime())})


def where_they_went(numbers: set[str], stage: str, now: datetime) -> dict[str, str]:
    """Say of boards that do not wait for a stage what took them from it, who did that, and when."""
    said = {}
    # Going on, going back or being freed; a held or scrapped board still waits for the stage that it waited for.
    left = ~Q(to_stage=F("from_stage")) | Q(kind__in=[Kind.HELD, Kind.SCRAPPED])
    entries = LogEntry.objects.with_words().select_related("blank").order_by("number")
    for entry in entries.filter(left, blank__number__in=numbers, from_stage=stage):
        said[entry.blank.number] = f"{entry.words} by {entry.by}, {_clock(entry.happened_at, now)}"
    return said


def _clock(at: datetime, now: datetime) -> str:
    """Write the time, and the day too when that is another one."""
    at = timezone.localtime(at)
    time = time_format(at)
    return time if at.date() == now.date() else f"{date_format(at, 'j M')}, {time}"
