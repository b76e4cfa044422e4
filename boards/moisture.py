"""Reading moisture: the resting queue with a box beside each blank, and the readings of one blank."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.core.paginator import Paginator
from django.db.models import Count, F, Max, Min, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from boards.actions import get_blank, word_asked
from boards.drying import Expected, InTheAir
from boards.models import Blank, Condition, MoistureReading
from boards.models.moisture import Point, Way, note_readings, points_of, take_back
from boards.moisture_forms import ManyReadingsForm, OneReadingForm
from boards.settled import Settled, Settledness, with_state
from shop.models import Hand, Shop
from shop.presses import carry_out

A_PAGE = 30
AT_ONCE = 200  # boxes that one press may carry
# In the order in which they want a reading; what needs none stands last.
STATES = (Settled.NOT, Settled.NEARLY, Settled.UNKNOWN, Settled.SETTLED, Settled.NO_NEED)


@dataclass(frozen=True, slots=True)
class Row:
    """One blank of the queue: where it stands, when it is expected, what others of its lot read, its box."""

    blank: Blank
    known: Settledness
    expected: Expected | None
    lot: str
    box: Any = None


def resting(request: HttpRequest) -> HttpResponse:
    """List the blanks that rest, by where they stand, those longest not read first; take readings of many at once."""
    today, shop = timezone.localdate(), request.shop
    lying = _looked_for(Blank.objects.in_rack().exclude(condition=Condition.HELD), word_asked(request, "q", 80))
    lying = with_state(lying, shop, today=today)
    counts = _counts(lying)
    state = request.GET.get("state", "")
    wanted = [each for each in STATES if each == state] or list(STATES[:3])
    shown = lying.filter(settled__in=wanted)
    in_order = shown.select_related("species").order_by(F("read_on").asc(nulls_first=True), "received_on", "number")
    pages = Paginator(in_order, A_PAGE)
    pages.count = sum(counts[each] for each in wanted)  # counted already
    page = pages.get_page(request.GET.get("page"))
    blanks = list(page)
    if request.method == "POST":
        blanks += _also_typed(request, blanks)
        form = ManyReadingsForm(request.POST, blanks=blanks, shop=shop)
        if form.is_valid():
            return carry_out(request, lambda hand: _note_many(request, form, hand), said=_said(form), form=form)
    else:
        form = ManyReadingsForm(blanks=blanks, shop=shop)
    others = request.GET.copy()
    others.pop("page", None)
    context = {
        "form": form,
        "rows": _rows(blanks, form, shop, today),
        "page": page,
        "query": others.urlencode(),
        "counts": counts.items(),
        "state": state if state == wanted[0] else "",
        "sought": word_asked(request, "q", 80),
        "air": shop.air,
        "section": "rack",
    }
    return render(request, "boards/resting.html", context, status=422 if form.is_bound else 200)


def _looked_for(blanks: QuerySet[Blank], text: str) -> QuerySet[Blank]:
    anywhere = Q()
    for column in ("number", "species__name", "supplier", "lot", "place") if text else ():
        anywhere |= Q(**{f"{column}__icontains": text})
    return blanks.filter(anywhere)


def _counts(lying: QuerySet[Blank]) -> dict[Settled, int]:
    """Count the blanks of each state."""
    found = dict(lying.order_by().values_list("settled").annotate(Count("pk")))
    return {state: found.get(state, 0) for state in STATES}


def _also_typed(request: HttpRequest, shown: list[Blank]) -> list[Blank]:
    """Fetch blanks whose box was filled in on the page as it was: it may show others by now."""
    here = {blank.pk for blank in shown}
    typed = [name[1:] for name, value in request.POST.items() if name[:1] == "b" and value and len(name) < 12]
    pks = {int(text) for text in typed[:AT_ONCE] if text.isascii() and text.isdigit()} - here
    return list(Blank.objects.filter(pk__in=pks).select_related("species").order_by("number"))


def _rows(blanks: list[Blank], form: ManyReadingsForm, shop: Shop, today: date) -> list[Row]:
    air = InTheAir.of(blanks, shop, today=today)
    lots = _lots(blank for blank in blanks if air.known[blank.pk].state == Settled.UNKNOWN)
    return [
        Row(
            blank,
            air.known[blank.pk],
            air.expected.get(blank.pk),
            lots.get(_lot(blank), "") if air.known[blank.pk].state == Settled.UNKNOWN else "",
            form[f"b{blank.pk}"] if f"b{blank.pk}" in form.fields else None,
        )
        for blank in blanks
    ]


def _lot(blank: Blank) -> tuple[object, ...]:
    return (blank.lot, blank.supplier, blank.species_id, blank.received_on)


def _lots(blanks: Any) -> dict[tuple[object, ...], str]:
    """Say what those of a lot read that were read in the shop: a few of a box tell of the others."""
    lots = {_lot(blank) for blank in blanks if blank.lot}
    if not lots:
        return {}
    of_lots = Blank.objects.not_scrapped().filter(lot__in={lot[0] for lot in lots}).order_by()
    found = of_lots.values_list("lot", "supplier", "species_id", "received_on").annotate(
        Count("pk"), Count("holds__percent"), Min("holds__percent"), Max("holds__percent")
    )
    return {
        tuple(lot): f"{read} of the {all_} of its lot read {least:.1f}{f' to {most:.1f}' if most > least else ''} %."
        for *lot, all_, read, least, most in found
        if read
    }


def _note_many(request: HttpRequest, form: ManyReadingsForm, hand: Hand) -> str:
    note_readings(hand, request.shop, form.readings)
    asked = {name: word_asked(request, name, 80) for name in ("q", "state") if request.GET.get(name)}
    return reverse("boards:resting") + (f"?{urlencode(asked)}" if asked else "")


def _said(form: ManyReadingsForm) -> str:
    many = len(form.found)
    return f"{many} reading{'s are' if many > 1 else ' is'} kept."


def of_blank(request: HttpRequest, number: str) -> HttpResponse:
    """Show what was read of a blank, and take a reading."""
    blank, today = get_blank(number), timezone.localdate()
    if request.method != "POST":
        return _page(request, blank, OneReadingForm(blank=blank, today=today, shop=request.shop))
    form = OneReadingForm(request.POST, blank=blank, today=today, shop=request.shop)
    if not form.is_valid():
        return _page(request, blank, form, status=422)

    def do(hand: Hand) -> str:
        note_readings(hand, request.shop, [(blank, form.reading)], at=form.at(hand.at))
        return f"{reverse('boards:blank', args=[number])}#moisture"

    return carry_out(request, do, said=f"{number}: the reading is kept.", form=form)


def _page(request: HttpRequest, blank: Blank, form: OneReadingForm, status: int = 200) -> HttpResponse:
    context = {"blank": blank, "form": form, "section": "rack", **known_of(blank, request.shop)}
    return render(request, "boards/moisture.html", context, status=status)


@require_POST
def take_reading_back(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    """Let a reading count no more."""
    blank = get_blank(number)
    entry = get_object_or_404(MoistureReading.objects.select_related("blank"), blank=blank, pk=pk)

    def do(hand: Hand) -> str:
        take_back(hand, request.shop, entry)
        return reverse("boards:moisture", args=[number])

    return carry_out(request, do, said=f"{number}: the reading is taken back.")


def known_of(blank: Blank, shop: Shop) -> dict[str, Any]:
    """Give what a page says of one blank's moisture: where it stands, what was read, what is expected."""
    today = timezone.localdate()
    air = InTheAir.of([blank], shop, today=today)
    found: list[Point] = points_of([blank])[blank.pk]
    entries = MoistureReading.objects.filter(blank=blank).exclude(way=Way.BACK)
    return {
        "known": air.known[blank.pk],
        "expected": air.expected.get(blank.pk),
        "points": found,
        "readings": _with_moisture(entries.select_related("by", "taken_back_by__by").order_by("-at", "-pk"), found),
        "today": today,
    }


def _with_moisture(
    entries: QuerySet[MoistureReading], found: list[Point]
) -> list[tuple[MoistureReading, float | None]]:
    """Put beside each reading the moisture that it tells."""
    told = {point.entry.pk: point.percent for point in found if point.entry}
    return [(entry, told.get(entry.pk)) for entry in entries]
