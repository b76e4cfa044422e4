"""Labels with a code for blanks: which blanks, on which sheet, from which label on."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import timedelta
from functools import reduce
from operator import or_
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.db.models import Count, Max, Min, Q, QuerySet, Value
from django.db.models.functions import Length, Upper
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from boards.handing_out import Back, hand_out_pdf, not_printed
from boards.label_pages import calibration_sheet, label_sheets
from boards.models import Blank, Kind, LogEntry
from boards.printing import Sheet
from boards.qr import address_of, home_of
from shop.drawings.label_sheet import draw_label_sheet
from shop.forms import PlainWords
from shop.models import LabelSheet, Paper, Refused

MOST_AT_ONCE = 600  # labels; more than that nobody sticks on in one go
RECENT_DAYS, MOST_BOXES = 120, 8
FEW = 4  # blanks that are named one by one
BACK = "Back to the labels"
_LAST_PRINT = "labels"  # in the session: the sheet that was printed on, and the next free label of it
_FROM_TO = re.compile(r"(\S+)\s+(?:to|bis|-|–)\s+(\S+)", re.IGNORECASE)
_WORDS = re.compile(r"[\s,;]+")


class ChoiceForm(PlainWords, forms.Form):
    """Which blanks get labels."""

    is_search = True

    numbers = forms.CharField(
        required=False,
        max_length=4000,
        help_text="One after the other, or from one to another: F0012 to F0020.",
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    lot = forms.CharField(label="Lot or box", required=False, max_length=40)

    def clean(self) -> dict[str, Any]:
        """Ask for something to go by."""
        cleaned = super().clean() or self.cleaned_data
        if not self.errors and not any(cleaned.values()):
            self.add_error("numbers", "Write numbers, or the lot they came with.")
        return cleaned

    def blanks(self) -> QuerySet[Blank]:
        """Find them."""
        wanted = self.cleaned_data
        # Only what is asked for stands in the query: each part by itself is found by an index.
        parts = [
            Q(number__gte=first, number__lte=last, letters=len(first))
            for first, last in _FROM_TO.findall(wanted["numbers"].upper())
            if len(first) == len(last)
        ]
        numbers = list(filter(None, _WORDS.split(_FROM_TO.sub(" ", wanted["numbers"]))))
        if numbers:
            parts.append(Q(number__in={*numbers, *map(str.upper, numbers)}))
        if wanted["lot"]:
            parts.append(Q(lot_in_capitals=Upper(Value(wanted["lot"]))))
        blanks = Blank.objects.alias(letters=Length("number"), lot_in_capitals=Upper("lot"))
        return blanks.filter(reduce(or_, parts)) if parts else blanks.none()


@dataclass(frozen=True, slots=True)
class Wanted:
    """The blanks of a print, and how the address asks for them."""

    blanks: list[Blank]
    query: str
    too_many: bool = False

    @property
    def words(self) -> str:
        """Name the blanks: a few one by one, of many the first and the last."""
        names = [blank.number for blank in self.blanks]
        return ", ".join(names) if len(names) <= FEW else f"{names[0]} to {names[-1]}"


def _wanted(request: HttpRequest, form: ChoiceForm) -> Wanted | None:
    """Read which blanks an address asks for: by the press with which they came in, or by what is typed."""
    box = request.GET.get("box", "").replace("\x00", "")[:24]
    if box:
        # What came in with one press has one time, to the microsecond. It is asked for first: in one query PostgreSQL,
        # while it does not know yet how much there is, looks through the log again and again.
        with_it = LogEntry.objects.filter(kind=Kind.RECEIVED, blank__number=box).values("at", "by").first()
        received = LogEntry.objects.filter(kind=Kind.RECEIVED, **with_it) if with_it else LogEntry.objects.none()
        found = Blank.objects.filter(pk__in=received.values("blank"))
        query = {"box": box}
    elif form.is_bound and form.is_valid():
        found, query = form.blanks(), {name: value for name, value in form.cleaned_data.items() if value}
    else:
        return None
    blanks = list(found.not_scrapped().select_related("species").order_by("number")[: MOST_AT_ONCE + 1])
    return Wanted(blanks[:MOST_AT_ONCE], urlencode(query), len(blanks) > MOST_AT_ONCE)


def _form(request: HttpRequest) -> ChoiceForm:
    if not {"numbers", "lot"} & request.GET.keys():
        return ChoiceForm()
    asked = request.GET.copy()
    asked["numbers"] = " ".join(request.GET.getlist("numbers"))  # ticked in the rack, they come one by one
    return ChoiceForm(asked)


@require_GET
def labels(request: HttpRequest) -> HttpResponse:
    """Choose blanks, a sheet and its first free label."""
    form = _form(request)
    wanted = _wanted(request, form)
    context: dict[str, Any] = {"form": form, "section": "rack", "wanted": wanted}
    if wanted and wanted.blanks:
        context |= _sheet_choice(request, wanted)
    else:
        context["boxes"] = _recent_boxes()
        if wanted:
            context["none"] = "No blank is like that; scrapped ones get no label."
    status = 422 if form.is_bound and not form.is_valid() else 200
    return render(request, "boards/labels.html", context, status=status)


def _sheet_choice(request: HttpRequest, wanted: Wanted) -> dict[str, Any]:
    sheets = list(LabelSheet.objects.all())
    sheet = _sheet_of(request, sheets)
    if sheet is None:
        return {"sheets": sheets}
    first = _first_of(request, sheet)
    page, pdf = reverse("boards:labels"), reverse("boards:labels-pdf")

    def leads_to(place: int) -> str:
        return f"{page}?{wanted.query}&sheet={sheet.pk}&start={place}#sheet"

    last = request.session.get(_LAST_PRINT, {})
    free = last.get("next", 1) if last.get("sheet") == sheet.pk else 1
    names = [blank.number for blank in wanted.blanks]
    return {
        "sheets": sheets,
        "sheet": sheet,
        "start": first,
        "drawing": draw_label_sheet(sheet, request.shop.style, first=first, names=names, leads_to=leads_to),
        "pdf": f"{pdf}?{wanted.query}&sheet={sheet.pk}&start={first}",
        "pages": -(-(first - 1 + len(names)) // sheet.count),
        "free": free if 1 < free <= sheet.count and free != first else None,
        "free_link": leads_to(free),
    }


def _sheet_of(request: HttpRequest, sheets: list[LabelSheet]) -> LabelSheet | None:
    """Take the sheet that is asked for, else the one printed on last, else one on the shop's paper."""
    by_key = {str(sheet.pk): sheet for sheet in sheets}
    for key in (request.GET.get("sheet", ""), str(request.session.get(_LAST_PRINT, {}).get("sheet"))):
        if key in by_key:
            return by_key[key]
    wide = 210 if request.shop.paper == Paper.A4 else 215
    return next((sheet for sheet in sheets if int(sheet.paper_width) == wide), sheets[0] if sheets else None)


def _first_of(request: HttpRequest, sheet: LabelSheet) -> int:
    text = request.GET.get("start", "1").strip()
    place = int(text) if text.isascii() and text.isdigit() and len(text) < 5 else 1
    return min(max(place, 1), sheet.count)


def _recent_boxes() -> list[dict[str, Any]]:
    """Find what came in of late, press by press."""
    since = timezone.now() - timedelta(days=RECENT_DAYS)
    received = LogEntry.objects.filter(kind=Kind.RECEIVED, at__gte=since)
    return list(
        received.order_by()
        .values("at", "by")
        .annotate(
            count=Count("pk"),
            first=Min("blank__number"),
            last=Max("blank__number"),
            wood=Min("blank__species__name"),
            other=Max("blank__species__name"),
        )
        .order_by("-at")[:MOST_BOXES]
    )


@require_GET
def labels_pdf(request: HttpRequest) -> HttpResponse:
    """Print the labels."""
    wanted = _wanted(request, _form(request))
    sheet = _sheet_of(request, list(LabelSheet.objects.all()))
    if wanted is None or not wanted.blanks or sheet is None:
        return not_printed(request, ["There is nothing to print labels for."], Back(reverse("boards:labels"), BACK))
    first, back = _first_of(request, sheet), Back(f"{reverse('boards:labels')}?{wanted.query}", BACK)
    home = home_of(request)
    labelled = [(blank, address_of(home, blank.number)) for blank in wanted.blanks]
    title = f"Labels, {len(labelled)} on {sheet}"
    try:
        pages = label_sheets(labelled, sheet, request.shop.style, first=first)
    except Refused as refusal:
        return not_printed(request, [str(refusal)], back)
    answer = hand_out_pdf(request, lambda: pages, title, "labels.pdf", back, true_size=True)
    if answer.status_code == 200:
        request.session[_LAST_PRINT] = {"sheet": sheet.pk, "next": (first - 1 + len(labelled)) % sheet.count + 1}
    return answer


@require_GET
def calibration_pdf(request: HttpRequest, pk: int) -> HttpResponse:
    """Print the frames of a sheet's labels, to see where this printer puts them."""
    sheet = get_object_or_404(LabelSheet, pk=pk)
    back = Back(reverse("shop:label-sheet", args=[pk]), f"Look at {sheet}")

    def make() -> list[Sheet]:
        return calibration_sheet(sheet, request.shop.style)

    return hand_out_pdf(request, make, f"Frames of {sheet}", "label-frames.pdf", back, true_size=True)
