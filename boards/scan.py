"""From a number to the work: the code on a traveller, a hand scanner, or what is typed into the box at the top."""

from __future__ import annotations

import re
from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from boards.actions import get_blank, word_asked
from boards.figures import worked
from boards.models import Blank, Condition
from boards.search import by_number, search
from shop.models import Build
from shop.stages import STAGES

# What a code says, of ours: a hand scanner types all of it. The machine may have had another address by then.
_CODE = re.compile(
    r"^(?:https?://)?[^/\s]+/(?P<what>scan|blanks|builds)/(?P<number>[A-Z0-9_-]+)/?(?:[?#].*)?$", re.IGNORECASE
)
LONGEST = 300  # an address is longer than a number
SHOWN = 80


@require_GET
@never_cache
def scan(request: HttpRequest, number: str) -> HttpResponse:
    """Open a blank where its work goes on."""
    blank = Blank.objects.filter(number__iexact=number).values_list("number", flat=True).first()
    return _open(request, get_blank(blank or number))


@require_GET
@never_cache
def find(request: HttpRequest) -> HttpResponse:
    """Open the blank or the build of a number that was typed or scanned; words are looked for in everything."""
    text = word_asked(request, "q", LONGEST)
    code = _CODE.match(text)
    text, builds_only = (code["number"], code["what"].lower() == "builds") if code else (text[:SHOWN], False)
    blank = None if builds_only else _numbered(Blank.objects.with_spec(), text)
    if blank is not None:
        return _open(request, blank)
    build = _numbered(Build.objects.all(), text)
    if build is not None:
        return redirect("shop:build", build.number)
    # What could be the beginning of a number is looked for among numbers first: that takes no look at everything.
    numbers = [] if builds_only or "everything" in request.GET else by_number(text)
    groups = numbers or ([] if builds_only else search(text))
    return render(request, "boards/find.html", {"text": text, "groups": groups, "only_numbers": bool(numbers)})


def _numbered(things: QuerySet, number: str) -> Any:
    """Find the one of a number, small or capital: as it is typed and in capitals first, which the index answers."""
    exactly = things.filter(number__in=[number, number.upper()]).first()
    return exactly or things.filter(number__iexact=number).first()


def _open(request: HttpRequest, blank: Blank) -> HttpResponse:
    """Go to the bench with the board in hand; to its page, and say why, where nothing is to be done at a bench."""
    why_not = not_at_a_bench(blank, request)
    if not why_not:
        return redirect(reverse("boards:bench", args=[blank.next_stage], query={"board": blank.number}))
    messages.info(request, why_not)
    return redirect("boards:blank", blank.number)


def not_at_a_bench(blank: Blank, request: HttpRequest) -> str:
    """Say why a blank is not to be worked on at a bench now; nothing where it is."""
    number = blank.number
    if blank.condition != Condition.ACTIVE:
        return f"{number} is {blank.get_condition_display()}."
    if blank.build and not blank.build.goes_on:
        return f"{number} is for {blank.build}, which is {blank.build.get_state_display()}."
    if blank.spec is None:
        return f"{number} is put to no build and no pattern yet."
    if not blank.next_stage:
        return f"{number} has been through all its stages."
    if not blank.done and blank.is_resting(timezone.localdate(), request.shop.rest_days):
        return f"{number} waits for {STAGES[blank.next_stage].label.lower()}, but its wood still rests."
    if worked(blank, request.shop).result is None:
        return f"{number} waits for {STAGES[blank.next_stage].label.lower()}, but cannot be worked out."
    return ""
