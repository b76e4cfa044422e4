"""The buying list: as a page, and as a file for the dealer."""

from __future__ import annotations

import csv

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from boards.buying import ENOUGH, BuyingList, Line, buying_list
from boards.tables.cells import harmless
from geometry.words import at_least, say
from shop.fields import unit_of
from shop.forms import PlainWords
from shop.models import Shop

MONTHS = 6


class MonthsForm(PlainWords, forms.Form):
    """How far ahead to buy."""

    is_search = True

    months = forms.IntegerField(label="For so many months", min_value=0, max_value=60)


def _asked(request: HttpRequest) -> tuple[MonthsForm, BuyingList]:
    """Read how far ahead; where that cannot be read, say so and show the usual."""
    form = MonthsForm({"months": request.GET.get("months", str(MONTHS))})
    months = form.cleaned_data["months"] if form.is_valid() else MONTHS
    return form, buying_list(request.shop, months=months)


@require_GET
def buying(request: HttpRequest) -> HttpResponse:
    """Show what to buy."""
    form, found = _asked(request)
    shop = request.shop
    steps = say(shop.buying_step, shop.style), say(shop.buying_step_thickness, shop.style)
    context = {"form": form, "found": found, "enough": ENOUGH, "steps": steps, "section": "rack"}
    return render(request, "boards/buying.html", context)


@require_GET
def buying_csv(request: HttpRequest) -> HttpResponse:
    """Hand the list out as a table."""
    _form, found = _asked(request)
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="buying-list.csv"'
    answer.write("\ufeff")  # without the mark, spreadsheets take it for an older alphabet
    table = csv.writer(answer)
    unit = unit_of(request.shop.style).value
    measures = [f"{name} {unit}" for name in ("length", "width", "thickness")]
    table.writerow(["wood", *measures, "needed", "for what is spoiled", "in the rack", "buy", "builds", "patterns"])
    table.writerows(_row(line, request.shop) for line in found.lines)
    return answer


def _row(line: Line, shop: Shop) -> list[object]:
    patterns = "; ".join(f"{pattern}: {boards}" for pattern, boards in line.patterns)
    return [
        harmless(str(line.species or "Any wood")),
        *(at_least(mm, shop.style, unit=False) for mm in (line.asked.length, line.asked.width, line.asked.thickness)),
        *(line.needed, line.spoiled, line.in_rack, line.buy),
        harmless(" ".join(build.number for build in line.builds)),
        harmless(patterns),
    ]
