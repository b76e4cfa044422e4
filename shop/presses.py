"""How a press of a button is carried out: once, by name, or refused in words."""

from __future__ import annotations

import uuid
from collections.abc import Callable

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.db import IntegrityError, models, transaction
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.choices import flatten_choices

from shop.models import Changed, Hand, Refused, Tap, TapElsewhere, once
from shop.unsent import CARRIED, forget, in_words


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


def save_single(thing: models.Model, taken: str, columns: list[str] | None = None) -> None:
    """Save a thing whose name or number must be single; `taken` says so when somebody was a moment faster."""
    try:
        with transaction.atomic():
            thing.save(update_fields=columns)
    except IntegrityError:
        raise Refused(taken) from None


def carry_out(
    request: HttpRequest, do: Callable[[Hand], str], *, said: str = "", form: BaseForm | None = None
) -> HttpResponse:
    """Do what a form asks, once, and go on to where `do` says.

    A refusal answers 409 with the reason and with what was typed, under the labels of `form`.
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
        return refused(request, str(refusal), form)
    forget(request, request.POST["tap"])
    if said:
        messages.success(request, said)
    return redirect(answer)


def refused(request: HttpRequest, reason: str, form: BaseForm | None = None) -> HttpResponse:
    """Say why it was not done; nothing of what was typed is lost."""
    return render(request, "errors/409.html", {"reason": reason, "typed": _typed(request, form)}, status=409)


def _typed(request: HttpRequest, form: BaseForm | None) -> list[tuple[str, str]]:
    """Give what was typed and chosen as the page showed it: labels, and the words of a choice."""
    boxes = {box.html_name: box for box in form} if form is not None else {}
    typed = []
    for name, value in request.POST.items():
        if name in CARRIED or name.startswith("initial-") or not value:
            continue
        box = boxes.get(name)
        if box is None:
            typed.append((in_words(name), value))
        else:
            choices = {str(key): words for key, words in flatten_choices(getattr(box.field, "choices", ()))}
            typed.append((box.label, choices.get(value, value)))
    return typed
