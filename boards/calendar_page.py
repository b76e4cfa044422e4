"""The calendar's page under Kit, where its address is shown and changed, and the address itself."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import datetime

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, HttpResponseNotFound
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_GET, require_POST, require_safe

from boards.calendar import days_of, write_feed
from boards.models import Calendar
from boards.qr import draw_qr, home_of
from shop.models import Hand
from shop.presses import carry_out, seen_version

CODE_MM = 40


@require_GET
def calendar(request: HttpRequest) -> HttpResponse:
    """Show the calendar's address and what is in it."""
    this, today = Calendar.current(), timezone.localdate()
    address = home_of(request) + reverse("boards:calendar-feed", args=[this.secret]) if this.seed else ""
    days = days_of(this, request.shop, now=timezone.now()) if this.seed else []
    context = {
        "calendar": this,
        "address": address,
        "code": draw_qr(address, CODE_MM) if address else "",
        "days": sorted((day for day in days if day.last >= today), key=lambda day: (day.first, day.title)),
        "section": "kit",
    }
    return render(request, "boards/calendar.html", context)


@require_POST
def change_address(request: HttpRequest) -> HttpResponse:
    """Give the calendar a new address."""
    return _press(request, Calendar.change_address, "The calendar has a new address. Any other leads nowhere.")


@require_POST
def close(request: HttpRequest) -> HttpResponse:
    """Take the calendar's address away."""
    return _press(request, Calendar.close, "The calendar has no address any more.")


def _press(request: HttpRequest, verb: Callable[[Calendar, int, datetime], None], said: str) -> HttpResponse:
    seen = seen_version(request)

    def do(hand: Hand) -> str:
        verb(Calendar.current(), seen, hand.at)
        return reverse("boards:calendar")

    return carry_out(request, do, said=said)


@login_not_required  # a calendar cannot sign in: who knows the address may read it
@require_safe
def calendar_feed(request: HttpRequest, secret: str) -> HttpResponse:
    """Hand the feed out to whoever knows its address; no cookie goes with it, and no page of ours."""
    this = Calendar.objects.filter(pk=1).first()
    if this is None or not this.opens_with(secret):
        return _private(HttpResponseNotFound("There is no calendar here.\n", content_type="text/plain; charset=utf-8"))
    body = write_feed(this, request.shop, now=timezone.now())
    answer = _private(HttpResponse(body, content_type="text/calendar; charset=utf-8"))
    answer.headers["Content-Disposition"] = 'inline; filename="dates.ics"'
    answer.headers["ETag"] = etag = f'"{hashlib.sha256(body).hexdigest()}"'
    return get_conditional_response(request, etag=etag, response=answer)


def _private(answer: HttpResponse) -> HttpResponse:
    # Asked for again each time, so that an address that was changed is gone at once, and nothing new costs no bytes.
    answer.headers["Cache-Control"] = "private, no-cache"
    answer.headers["X-Robots-Tag"] = "noindex"
    return answer
