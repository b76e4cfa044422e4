"""How a press of a button is carried out: once, by name, or refused in words."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Callable

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.db import IntegrityError, models, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone

from shop.models import Changed, Hand, Refused, Tap, TapElsewhere, TapWithOther, once
from shop.outbox import OUTCOME, pressed_at, sent_later
from shop.refusals import Forms, refused
from shop.unsent import forget


def new_tap() -> str:
    """Make the request id that a form carries."""
    return str(uuid.uuid4())


def seen_version(request: HttpRequest) -> int:
    """Read which version of a thing the person saw."""
    text = request.POST.get("seen", "")
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise BadRequest("This form does not say what it was made for. Open the page again.")
    return int(text)


def claim(thing: models.Model, seen: int, *, known_as: str = "") -> None:
    """Take the next version of a thing, if it still is as the person saw it."""
    if not type(thing).objects.filter(pk=thing.pk, version=seen).update(version=seen + 1):
        raise Changed(f"Somebody has changed {known_as or thing} since you saw it.", thing)
    thing.version = seen + 1


def save_single(thing: models.Model, taken: str, columns: list[str] | None = None) -> None:
    """Save a thing whose name or number must be single; `taken` says so when somebody was a moment faster."""
    try:
        with transaction.atomic():
            thing.save(update_fields=columns)
    except IntegrityError:
        raise Refused(taken) from None


def carry_out(request: HttpRequest, do: Callable[[Hand], str], *, said: str = "", form: Forms = None) -> HttpResponse:
    """Do what a form asks, once, and go on to where `do` says.

    A refusal answers 409 with the reason, with what is there now, and with what was typed under the labels of `form`
    (several, where a page has several). A form with `rehearse` in it only asks what stands in its way.
    """
    try:
        request_id = uuid.UUID(request.POST.get("tap", ""))
    except ValueError:
        raise BadRequest("This form does not say what it was made for. Open the page again.") from None
    now = timezone.now()
    device = request.headers.get("User-Agent", "")[:200]
    hand = Hand(request.user, now, device, request_id, pressed_at(request, now))
    if getattr(request, "rehearsal", False):
        refusal = _would_be_refused(do, hand)
        return HttpResponse(str(refusal), status=409) if refusal else HttpResponse(status=204)
    if "rehearse" in request.POST:
        return _look(request, do, hand, form)
    tap = Tap(id=request_id, by=request.user, path=request.path[:300], body=_digest(request), at=now)
    try:
        answer, fresh = once(tap, lambda: do(hand))
    except TapElsewhere:
        raise BadRequest("This form was sent from somewhere else before. Open the page again.") from None
    except Refused as refusal:
        return refused(request, refusal, form)
    forget(request, request.POST["tap"])
    if said and not sent_later(request):
        messages.success(request, said)
    response = redirect(answer)
    response.headers[OUTCOME] = "done" if fresh else "done-before"
    return response


def _look(request: HttpRequest, do: Callable[[Hand], str], hand: Hand, form: Forms) -> HttpResponse:
    """Say what stands in the way of a press that waits in an outbox, and change nothing."""
    if Tap.objects.filter(pk=hand.request_id).exists():
        refusal = TapWithOther("This was kept when it was sent before. Nothing is left to do.")
    else:
        refusal = _would_be_refused(do, hand) or Refused("Nothing stands in its way by now.")
    return refused(request, refusal, form, only_looked=True)


def _would_be_refused(do: Callable[[Hand], str], hand: Hand) -> Refused | None:
    """Try something and keep nothing of it."""
    try:
        with transaction.atomic():
            do(hand)
            transaction.set_rollback(True)
    except Refused as refusal:
        return refusal
    return None


def _digest(request: HttpRequest) -> str:
    """Know again what was sent: all fields but the token, which is another one each time."""
    sent = sorted((name, values) for name, values in request.POST.lists() if name != "csrfmiddlewaretoken")
    return hashlib.sha256(json.dumps(sent).encode()).hexdigest()
