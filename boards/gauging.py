"""The page on which the curve of a board is gauged, and what was gauged before is looked at again."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from boards.actions import back_to, get_blank
from boards.figures import worked
from boards.gauge_form import COUNTS, USUAL, GaugeForm
from boards.models import Blank, Kind, LogEntry
from geometry.units import LengthStyle
from shop.fields import typed_length
from shop.presses import carry_out, seen_version
from shop.stages import STAGES


def _count(text: str) -> int:
    return int(text) if text in map(str, COUNTS) else USUAL


@require_http_methods(["GET", "POST"])
def gauge(request: HttpRequest, number: str) -> HttpResponse:
    """Read the curve of a board from what was gauged; keep it in its log where that is asked for."""
    blank = get_blank(number)
    board = worked(blank, request.shop)
    how: dict[str, Any] = {"board": board, "count": _count(request.POST.get("points", "")), "shop": request.shop}
    if request.method != "POST":
        kept = _kept(request, blank)
        return _page(request, kept_form(kept, **how) if kept else GaugeForm(**how), kept=kept)
    if request.POST.get("do") == "points":
        return _page(request, GaugeForm(initial=_typed(request.POST.dict()), **how))
    form = GaugeForm(request.POST, **how)
    if not form.is_valid():
        return _page(request, form, status=422)
    if request.POST.get("do") != "keep":
        return _page(request, form)
    seen = seen_version(request)

    def do(hand):
        blank.gauge(hand, seen, form.words, form.points)
        return back_to(request, blank)

    return carry_out(request, do, said=f"{number}: what the gauge read is kept.", form=form)


def _typed(sent: dict[str, str]) -> dict[str, str]:
    """Keep what was typed where another number of points is asked for; a station not begun gets its places anew."""
    begun = {name.partition("_")[0] for name, value in sent.items() if "_z" in name and value}
    return {name: value for name, value in sent.items() if "_y" not in name or name.partition("_")[0] in begun}


def _page(request: HttpRequest, form: GaugeForm, status: int = 200, kept: LogEntry | None = None) -> HttpResponse:
    context = {
        "blank": form.board.blank,
        "form": form,
        "kept": kept,
        "read": form.is_bound and form.is_valid(),
        "stage": STAGES.get(form.board.blank.next_stage),
        "counts": COUNTS,
        "then": request.POST.get("then", request.GET.get("then", "")),
        "section": "benches",
    }
    return render(request, "boards/gauge.html", context, status=status)


def _kept(request: HttpRequest, blank: Blank) -> LogEntry | None:
    """Fetch what was kept before, if the address asks for it."""
    number = request.GET.get("entry", "")
    if not number:
        return None
    gauged = blank.log.select_related("by").filter(kind=Kind.GAUGED)
    entry = gauged.filter(number=int(number)).first() if number.isdecimal() and len(number) < 9 else None
    if entry is None:
        raise Http404("There is no such gauging.")
    return entry


def kept_form(entry: LogEntry, **how: Any) -> GaugeForm:
    """Put into the boxes what was kept, and read it again."""
    style = how["shop"].style

    def typed(value: str) -> str:
        return value if style is LengthStyle.MM else typed_length(Decimal(value), style)

    read = {name: typed(value) for name, value in entry.readings.items()}
    by_station: dict[str, list[tuple[str, str]]] = {}
    for name in entry.readings:
        station, _, place = name.partition(" ")
        if place:
            by_station.setdefault(station, []).append((typed(place), read[name]))
    how["count"] = max([3, *map(len, by_station.values())]) if by_station else USUAL
    blank_form = GaugeForm(**how)  # a station that was not gauged shows where it could be
    data = {name: box.initial for name, box in blank_form.fields.items() if box.initial} | read
    for station, points in by_station.items():
        for k in range(how["count"]):
            place, value = points[k] if k < len(points) else ("", "")
            data |= {f"{station}_y{k}": place, f"{station}_z{k}": value}
    return GaugeForm(data, **how)
