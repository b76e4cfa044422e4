"""What happens to a build: held and let go on, delivered, cancelled, opened again; and notes about it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from shop.buildforms import DeliverForm, WordsForm, life_forms
from shop.builds import build_page_with, get_build
from shop.models import Hand
from shop.presses import carry_out, seen_version


def _act(
    request: HttpRequest, number: str, name: str, form: forms.Form, do: Callable[[Hand], Any], said: str
) -> HttpResponse:
    if not form.is_valid():
        build = get_build(number)
        return build_page_with(request, build, life_forms(request, build, **{name: form}), status=422)

    def done(hand: Hand) -> str:
        do(hand)
        return reverse("shop:build", args=[number])

    return carry_out(request, done, said=said, form=form)


@require_POST
def note(request: HttpRequest, number: str) -> HttpResponse:
    """Write a note about a build."""
    build, form = get_build(number), WordsForm(request.POST, label="Note", auto_id="note_%s")
    return _act(request, number, "note", form, lambda hand: build.note(hand, form.cleaned_data["text"]), "Noted.")


@require_POST
def hold(request: HttpRequest, number: str) -> HttpResponse:
    """Stop work on a build."""
    build, seen = get_build(number), seen_version(request)
    form = WordsForm(request.POST, label="Why it is held", auto_id="hold_%s")
    return _act(
        request, number, "hold", form,
        lambda hand: build.hold(hand, seen, form.cleaned_data["text"]), f"{number} is held.",
    )  # fmt: skip


@require_POST
def go_on(request: HttpRequest, number: str) -> HttpResponse:
    """Let work on a build go on."""
    build, seen = get_build(number), seen_version(request)
    form = WordsForm(request.POST, required=False, auto_id="go_%s")
    return _act(
        request, number, "go_on", form,
        lambda hand: build.let_go_on(hand, seen, form.cleaned_data["text"]), f"{number} goes on.",
    )  # fmt: skip


@require_POST
def deliver(request: HttpRequest, number: str) -> HttpResponse:
    """Deliver a build."""
    build, seen = get_build(number), seen_version(request)
    form = DeliverForm(request.POST, build=build, shop=request.shop, auto_id="deliver_%s")
    if seen != build.version:
        form.is_valid()  # whoever was first is named, whatever there would be to ask
        return carry_out(request, lambda hand: str(build.deliver(hand, seen, timezone.localdate(hand.at))), form=form)
    return _act(
        request, number, "deliver", form,
        lambda hand: build.deliver(hand, seen, form.cleaned_data["day"], form.cleaned_data["text"]),
        f"{number} is delivered.",
    )  # fmt: skip


@require_POST
def cancel(request: HttpRequest, number: str) -> HttpResponse:
    """Cancel a build: its boards are free again."""
    build, seen = get_build(number), seen_version(request)
    form = WordsForm(request.POST, label="Why it is cancelled", auto_id="cancel_%s")
    return _act(
        request, number, "cancel", form,
        lambda hand: build.cancel(hand, seen, form.cleaned_data["text"]), f"{number} is cancelled.",
    )  # fmt: skip


@require_POST
def reopen(request: HttpRequest, number: str) -> HttpResponse:
    """Open a build again that was delivered or cancelled."""
    build, seen = get_build(number), seen_version(request)
    form = WordsForm(request.POST, required=False, auto_id="open_%s")
    return _act(
        request, number, "reopen", form,
        lambda hand: build.reopen(hand, seen, form.cleaned_data["text"]), f"{number} is open again.",
    )  # fmt: skip
