"""The order book: all builds, those still open by the day they are due, those delivered or cancelled page by page."""

from __future__ import annotations

from datetime import date

from django import forms
from django.core.paginator import Paginator
from django.db.models import F, Prefetch, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from shop.forms import PlainWords
from shop.models import Build, BuildState, Pattern
from shop.models.words import anywhere

A_PAGE = 50
COLUMNS = ("number", "title", "customer", "remarks")


class BuildsForm(PlainWords, forms.Form):
    """Which builds to show."""

    is_search = True

    q = forms.CharField(label="Look for", required=False, max_length=80)
    pattern = forms.ModelChoiceField(
        Pattern.objects.only("name"), label="Pattern", required=False, empty_label="Any pattern, or none"
    )
    show = forms.ChoiceField(
        label="Which",
        required=False,
        choices=[
            ("", "All that are open"),
            ("late", "Late"),
            ("held", "Held"),
            ("waiting", "Without all their blanks"),
            ("closed", "Delivered and cancelled"),
            ("delivered", "Delivered"),
            ("cancelled", "Cancelled"),
        ],
    )


def _chosen(form: BuildsForm) -> QuerySet[Build]:
    wanted = form.cleaned_data if form.is_valid() else {}
    show, today = wanted.get("show", ""), timezone.localdate()
    if show in ("closed", "delivered", "cancelled"):
        # Said as a span of days, so that the index gives their page and their count without a look at those still open.
        found = Build.objects.filter(closed_on__gte=date.min).order_by("-closed_on", "number")
        if show != "closed":
            found = found.filter(state=show)
    else:
        found = Build.objects.open()
    match show:
        case "late":
            found = found.filter(due_on__lt=today)
        case "held":
            found = found.filter(state=BuildState.HELD)
        case "waiting":
            found = found.alias(given=_blanks().not_scrapped().count_of_build()).filter(given__lt=F("boards_wanted"))
    if wanted.get("pattern"):
        found = found.filter(pattern=wanted["pattern"])
    if text := wanted.get("q"):
        found = found.filter(anywhere(text, COLUMNS))
    return found


def _blanks() -> QuerySet:
    return Build._meta.get_field("blanks").related_model.objects


@require_GET
def builds(request: HttpRequest) -> HttpResponse:
    """List the builds with their blanks."""
    form = BuildsForm(request.GET)
    found = _chosen(form)
    rows = found.select_related("wire", "route", "species", "pattern", "goes_with").prefetch_related(
        Prefetch("blanks", queryset=_blanks().not_scrapped().with_spec())
    )
    page = Paginator(rows, A_PAGE).get_page(request.GET.get("page"))
    others = request.GET.copy()
    others.pop("page", None)
    context = {
        "form": form,
        "page": page,
        "query": others.urlencode(),
        "closed": form.is_valid() and form.cleaned_data["show"] in ("closed", "delivered", "cancelled"),
        "sought": form.is_valid() and any(form.cleaned_data.values()),
        "day": timezone.localdate(),
        "section": "builds",
    }
    return render(request, "shop/builds.html", context)
