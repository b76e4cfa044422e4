"""How a press of a button is carried out: once, by name, or refused in words."""

from __future__ import annotations

import uuid
from collections.abc import Callable

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.db import models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from shop.models import Changed, Hand, Refused, Tap, TapElsewhere, once
from shop.unsent import CARRIED, forget


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
        raise Changed(f"Somebody has changed {known_as or thing} since you saw it. Open it again and look first.")
    thing.version = seen + 1


def carry_out(request: HttpRequest, do: Callable[[Hand], str], *, said: str = "") -> HttpResponse:
    """Do what a form asks, once, and go on to where `do` says.

    A refusal answers 409 with the reason and with what was typed.
    """
    try:
        request_id = uuid.UUID(request.POST.get("tap", ""))
    except ValueError:
        raise BadRequest("This form does not say what it was made for. Open the page again.") from None
    now = timezone.now()
    hand = Hand(request.user, now, request.headers.get("User-Agent", "")[:200], request_id)
    tap = Tap(id=request_id, by=request.user, path=request.path[:300], at=now)
    try:
        answer, _fresh = once(tap, lambda: do(hand))
    except TapElsewhere:
        raise BadRequest("This form was sent from somewhere else before. Open the page again.") from None
    except Refused as refusal:
        return refused(request, str(refusal))
    forget(request, request.POST["tap"])
    if said:
        messages.success(request, said)
    return redirect(answer)


def refused(request: HttpRequest, reason: str) -> HttpResponse:
    """Say why it was not done; nothing of what was typed is lost."""
    typed = [(name, value) for name, value in request.POST.items() if name not in CARRIED and value]
    return render(request, "errors/409.html", {"reason": reason, "typed": typed}, status=409)
