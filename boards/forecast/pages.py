"""The page of dates: when boards will be done, and what another build would do to them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import SafeString
from django.views.decorators.http import require_GET

from boards.forecast.kept import came_true
from boards.forecast.outlook import HALF, MOST, RUNS, SHARES, Forecast, Outlook, forecast_builds
from shop.drawings.dateline import draw_dateline, draw_scale, span_of
from shop.forms import PlainWords
from shop.models import Pattern

MOST_BOARDS = 12


class WhatIfForm(PlainWords, forms.Form):
    """A build that might be taken."""

    is_search = True

    pattern = forms.ModelChoiceField(Pattern.objects.select_related("wire", "route", "species"), empty_label="Choose")
    boards = forms.IntegerField(label="How many boards", min_value=1, max_value=MOST_BOARDS, initial=1)
    due = forms.DateField(
        label="Wanted by", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def clean_due(self) -> date | None:
        """Refuse a day that is past."""
        due = self.cleaned_data["due"]
        if due and not 0 <= (due - timezone.localdate()).days <= 3650:
            raise forms.ValidationError("That is not a day to come.")
        return due


@dataclass(frozen=True, slots=True)
class Row:
    """One build on the page: its outlook, its line, and how much later another build would make it."""

    outlook: Outlook
    line: SafeString
    later: int = 0


@require_GET
def dates(request: HttpRequest) -> HttpResponse:
    """Show when every open build will be done, by half of the runs and by most."""
    now = timezone.now()
    form = WhatIfForm(request.GET if "pattern" in request.GET else None)
    found = forecast_builds(request.shop, now=now)
    taken: Outlook | None = None
    if form.is_bound and form.is_valid():
        typed = form.cleaned_data
        extra = [(typed["pattern"], typed["boards"], typed["due"])]
        alone, found = found, forecast_builds(request.shop, now=now, extra=extra)
        taken = next((each for each in found.outlooks if each.build.number == ""), None)
        context = _context(found, now.date(), alone)
    else:
        context = _context(found, timezone.localdate(now))
    context |= {"form": form, "taken": taken, "runs": RUNS, "half": HALF, "most": MOST, "section": "builds"}
    status = 422 if form.is_bound and not form.is_valid() else 200
    return render(request, "boards/dates.html", context, status=status)


def _context(found: Forecast, today: date, alone: Forecast | None = None) -> dict[str, Any]:
    with_dates = [outlook for outlook in found.outlooks if outlook.dates]
    span = span_of(today, [day for each in with_dates for day in (each.by_most, each.build.due_on)])
    rows = []
    for outlook in with_dates:
        line = draw_dateline(
            today,
            span,
            early=outlook.dates.get(SHARES[0]),
            half=outlook.by_half,
            most=outlook.by_most,
            due=outlook.build.due_on,
        )
        rows.append(Row(outlook, line, _later(outlook, alone)))
    return {
        "forecast": found,
        "rows": rows,
        "without": [outlook for outlook in found.outlooks if not outlook.dates],
        "scale": draw_scale(today, span),
        "moved": [row for row in rows if row.later > 0],
        "came_true": came_true(),
        "day": today,
    }


def _later(outlook: Outlook, alone: Forecast | None) -> int:
    before = alone.of(outlook.build) if alone and outlook.build.number else None
    if before is None or before.by_most is None or outlook.by_most is None:
        return 0
    return max((outlook.by_most - before.by_most) // timedelta(days=1), 0)
