"""The page of the matching, and putting what was ticked there."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import NamedTuple

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from boards.fits import MOST_WAITING
from boards.matching import match
from boards.models import Blank
from shop.models import Build, Changed, Hand, Refused
from shop.presses import carry_out

_SEEN = re.compile(r"(?P<blank>[\w-]{1,24}):(?P<seen>\d{1,9}):(?P<build>[\w-]{1,24}):(?P<build_seen>\d{1,9})", re.ASCII)


class Pair(NamedTuple):
    """A blank and a build as the person saw them."""

    blank: str
    seen: int
    build: str
    build_seen: int


@dataclass(slots=True)
class Accepted:
    """What was put, and why the rest was not."""

    put: list[Pair]
    lost: list[str]


def accept(*, pairs: list[Pair], hand: Hand) -> Accepted:
    """Put each blank to its build, if both are still as they were seen.

    Each pair stands by itself: what somebody else took meanwhile is named, and the others go through. A pair that is
    still good would be put just so at the next look, and to undo nine for the tenth helps nobody.
    """
    done = Accepted([], [])
    for pair in pairs:
        try:
            with transaction.atomic():
                _put(pair, hand)
        except Refused as refusal:
            done.lost.append(str(refusal))
        else:
            done.put.append(pair)
    return done


def _put(pair: Pair, hand: Hand) -> None:
    # The build is locked, where the database can: two tablets that give it a blank each come here one by one.
    build = Build.objects.select_for_update().filter(number=pair.build, version=pair.build_seen).first()
    if build is None:
        raise Changed(f"{pair.build} has been changed since you saw it.")
    given = list(Blank.objects.not_scrapped().filter(build=build).order_by("number").values_list("number", flat=True))
    if len(given) >= build.boards_wanted:
        raise Changed(f"{build.number} has {' and '.join(given)} by now.")
    blank = Blank.objects.select_related("build", "pattern").filter(number=pair.blank).first()
    if blank is None:
        raise Refused(f"There is no blank {pair.blank}.")
    blank.put_to(hand, pair.seen, build)


@require_GET
def matching(request: HttpRequest) -> HttpResponse:
    """Show which blank goes to which build."""
    return _page(request)


def _page(request: HttpRequest, trouble: str = "", ticked: list[str] | None = None) -> HttpResponse:
    found = match(request.shop, today=timezone.localdate())
    if ticked is None:
        ticked = [proposal.as_seen for proposal in found.proposals if proposal.settled.ready]
    context = {
        "found": found,
        "ticked": ticked,
        "waiting": len({each.build.pk for each in (*found.proposals, *found.without)}) + len(found.puzzling),
        "most": MOST_WAITING,
        "trouble": trouble,
        "section": "rack",
    }
    return render(request, "boards/matching.html", context, status=422 if trouble else 200)


@require_POST
def put_matched(request: HttpRequest) -> HttpResponse:
    """Put what was ticked, or all that was proposed."""
    chosen = request.POST.getlist("offered" if "all" in request.POST else "ticked")[:MOST_WAITING]
    if not chosen:
        return _page(request, "Nothing is ticked, so nothing was put.", ticked=[])
    found = [_SEEN.fullmatch(text) for text in chosen]
    if not all(found):
        raise BadRequest("This form does not say what it was made for. Open the page again.")
    pairs = [Pair(each["blank"], int(each["seen"]), each["build"], int(each["build_seen"])) for each in found]

    def do(hand: Hand) -> str:
        done = accept(pairs=pairs, hand=hand)
        if not done.put:
            raise Refused(" ".join(done.lost))
        put = ", ".join(f"{pair.blank} to {pair.build}" for pair in done.put)
        messages.success(request, f"Put: {put}.")
        if done.lost:
            messages.warning(request, f"Not put: {' '.join(done.lost)}")
        return reverse("boards:matching")

    return carry_out(request, do)
