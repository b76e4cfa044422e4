"""The rack: blanks that rest or wait, and what each can make."""

from __future__ import annotations

from django import forms
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET
from django.views.decorators.vary import vary_on_headers

from boards.fits import Held, needs, waiting_builds
from boards.models import Blank
from boards.models.queries import rested
from boards.settled import how_settled
from shop.forms import PlainWords
from shop.models import Shop, Species

A_PAGE = 50


class RackForm(PlainWords, forms.Form):
    """What to look for in the rack."""

    is_search = True

    q = forms.CharField(label="Look for", required=False, max_length=80)
    species = forms.ModelChoiceField(Species.objects.all(), label="Wood", required=False, empty_label="Any wood")
    show = forms.ChoiceField(
        label="Which",
        required=False,
        choices=[
            ("", "All in the rack"),
            ("resting", "Resting"),
            ("waiting", "Rested, put to nothing"),
            ("put", "Put to a build"),
            ("held", "Held, those in work too"),
        ],
    )


def _chosen(form: RackForm, shop: Shop) -> QuerySet[Blank]:
    wanted = form.cleaned_data if form.is_valid() else {}
    # A held board waits for a decision wherever it lies: asked for, those that are in work already come too.
    lying = Blank.objects.held() if wanted.get("show") == "held" else Blank.objects.in_rack()
    blanks = lying.with_spec().prefetch_related("log").order_by("received_on", "number")
    if not wanted:
        return blanks
    if wanted["species"]:
        blanks = blanks.filter(species=wanted["species"])
    if text := wanted["q"]:
        columns = ("number", "species__name", "supplier", "lot", "place", "remarks", "build__number", "build__title")
        anywhere = Q()
        for column in columns:
            anywhere |= Q(**{f"{column}__icontains": text})
        blanks = blanks.filter(anywhere)
    match wanted["show"]:
        case "resting":
            blanks = blanks.exclude(rested(timezone.localdate(), shop.rest_days))
        case "waiting":
            blanks = blanks.filter(rested(timezone.localdate(), shop.rest_days), build=None, pattern=None)
        case "put":
            blanks = blanks.exclude(build=None, pattern=None)
    return blanks


@require_GET
@vary_on_headers("HX-Request")
def rack(request: HttpRequest) -> HttpResponse:
    """List the rack, with the builds that each blank fits."""
    form = RackForm(request.GET)
    page = Paginator(_chosen(form, request.shop), A_PAGE).get_page(request.GET.get("page"))
    needed = needs(waiting_builds(), request.shop)
    today = timezone.localdate()
    held = Held(list(page), needed)
    settled = how_settled(held.blanks, request.shop, today=today)
    rows = [
        {
            "blank": blank,
            "settled": None if blank.done else settled[blank.pk],
            "fits": [] if blank.spec else [needed[row].spec for row in held.fits[:, column].nonzero()[0]],
        }
        for column, blank in enumerate(held.blanks)
    ]
    others = request.GET.copy()
    others.pop("page", None)
    context = {
        "form": form,
        "rows": rows,
        "page": page,
        "waiting_builds": len(needed),
        "query": others.urlencode(),
        "sought": form.is_valid() and any(form.cleaned_data.values()),
        "section": "rack",
    }
    only_list = request.htmx and not request.htmx.history_restore_request
    return render(request, "boards/_rack_list.html" if only_list else "boards/rack.html", context)
