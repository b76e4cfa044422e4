"""From a number to the work: the code on a traveller, a hand scanner, or what is typed into the box at the top."""

from __future__ import annotations

import re

from django.contrib import messages
from django.db.models import Q
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
    if answer := _go_to(request, _exactly(text), builds_only):
        return answer
    # What could be the beginning of a number is looked for among numbers first: that takes no look at everything.
    numbers = [] if builds_only or "everything" in request.GET else by_number(text)
    if not numbers and (answer := _go_to(request, Q(number__iexact=text), builds_only)):
        return answer
    groups = numbers or ([] if builds_only else search(text))
    return render(request, "boards/find.html", {"text": text, "groups": groups, "only_numbers": bool(numbers)})


def _exactly(number: str) -> Q:
    """Ask for a number as it is typed or in capitals, which the index answers."""
    return Q(number__in=[number, number.upper()])


def _go_to(request: HttpRequest, which: Q, builds_only: bool) -> HttpResponse | None:
    """Open the blank or the build that is meant, if there is one."""
    blank = None if builds_only else Blank.objects.with_spec().filter(which).first()
    if blank is not None:
        return _open(request, blank)
    build = Build.objects.filter(which).first()
    return redirect("shop:build", build.number) if build is not None else None


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
