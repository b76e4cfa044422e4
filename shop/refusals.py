"""What a refusal shows: what the person wanted beside what is there by now, and whether it could still be done."""

from __future__ import annotations

import copy
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db import models
from django.forms import BaseForm, BoundField
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.template import TemplateDoesNotExist
from django.template.loader import get_template
from django.utils.choices import flatten_choices

from shop.models import Changed, Refused, TapWithOther
from shop.outbox import OUTCOME, waits_for_answer
from shop.unsent import CARRIED, in_words
from shop.wayback import bench_behind, way_back

Forms = BaseForm | Iterable[BaseForm] | None


@dataclass(frozen=True, slots=True)
class Both:
    """One thing that was typed, and what is kept in its place by now; empty where nothing is."""

    label: str
    typed: str
    kept: str = ""
    differ: bool = True


def refused(request: HttpRequest, refusal: Refused, forms: Forms, *, only_looked: bool = False) -> HttpResponse:
    """Say why it was not done, show both versions, and offer to do it on top of what is there now if that can be."""
    status = 422 if isinstance(refusal, TapWithOther) else 409
    if waits_for_answer(request):
        words = {"content_type": "text/plain; charset=utf-8", "headers": {OUTCOME: "refused"}}
        return HttpResponse(str(refusal), status=status, **words)
    about = _by_now(refusal.about)
    seen = getattr(about, "version", request.POST.get("seen"))
    # What was sent before and kept is not sent again: somebody has to look what became of it.
    # Nor are files, which no page can carry on.
    over = isinstance(refusal, TapWithOther) or bool(request.FILES)
    trouble = str(refusal) if over else _rehearse(request, seen)
    rows = both_versions(request, forms)
    context = {
        "reason": str(refusal),
        "only_looked": only_looked,
        "was_kept": isinstance(refusal, TapWithOther),
        "changed": isinstance(refusal, Changed),
        "rows": rows,
        "differing": [row for row in rows if row.differ],
        "alike": [row for row in rows if not row.differ],
        "compares": any(row.kept for row in rows),
        "about": about,
        "there": _fragment_for(about),
        "was_seen": _number(request.POST.get("seen")),
        "trouble": trouble if trouble != str(refusal) else "",
        "fields": _sent_again(request) if not trouble else None,
        "seen": seen,
        "back": way_back(request, about),
        "bench": bench_behind(request),
    }
    page = render(request, "errors/409.html", context, status=status)
    page.headers[OUTCOME] = "refused"
    return page


def _by_now(thing: models.Model | None) -> models.Model | None:
    return thing and type(thing)._default_manager.filter(pk=thing.pk).first()


def _fragment_for(thing: models.Model | None) -> str:
    """Name the fragment that draws a thing as it is now, if there is one for its kind."""
    if thing is None:
        return ""
    name = f"errors/now/{thing._meta.model_name}.html"
    try:
        get_template(name)
    except TemplateDoesNotExist:
        return ""
    return name


def _number(text: str | None) -> int:
    return int(text) if text and text.isascii() and text.isdigit() and len(text) <= 9 else 0


def _rehearse(request: HttpRequest, seen: Any) -> str:
    """Try the same wish on what is there now, keep nothing of it, and give what stands against it, if anything.

    The rules are asked, not repeated: it is the same view. Input that has to be mended first is no obstacle, its form
    comes back and says so.
    """
    again = copy.copy(request)
    again.POST = request.POST.copy()
    again.POST.pop("rehearse", None)
    if "seen" in again.POST:
        again.POST["seen"] = str(seen)
    again.rehearsal = True
    try:
        answer = request.resolver_match.func(again, *request.resolver_match.args, **request.resolver_match.kwargs)
    except Http404 as gone:
        return str(gone)
    return answer.content.decode() if answer.status_code == 409 else ""


def _sent_again(request: HttpRequest) -> list[tuple[str, str]]:
    """Give all fields of a form, for another one that sends them on top of what is there now."""
    fresh = {"csrfmiddlewaretoken", "tap", "seen", "instead", "rehearse"}
    return [(name, value) for name, values in request.POST.lists() if name not in fresh for value in values]


def both_versions(request: HttpRequest, forms: Forms) -> list[Both]:
    """List what was typed and chosen as the page showed it, by its labels, each with what is kept by now."""
    if forms is None or isinstance(forms, BaseForm):
        forms = [forms] if forms is not None else []
    boxes = {box.html_name: box for form in forms for box in form}
    rows = [_both(box) for box in boxes.values()]
    for name, value in request.POST.items():
        if name not in boxes and name not in CARRIED and not name.startswith("initial-"):
            rows.append(Both(in_words(name), value))
    return [row for row in rows if row.typed or row.kept]


def _both(box: BoundField) -> Both:
    kept = box.form.get_initial_for_field(box.field, box.name)
    unit = getattr(box.field, "unit", "")
    label = f"{box.label}, {unit}" if unit else str(box.label)
    in_box = box.field.prepare_value(kept)
    return Both(label, _in_words(box, box.data), _in_words(box, in_box), box.field.has_changed(kept, box.data))


def _in_words(box: BoundField, value: Any) -> str:
    """Write a value as the page shows it: the words of a choice, yes or no for a tick."""
    if isinstance(value, list | tuple):
        return ", ".join(_in_words(box, each) for each in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None:
        return ""
    choices = {str(key): str(words) for key, words in flatten_choices(getattr(box.field, "choices", ()))}
    return choices.get(str(value), str(value))
