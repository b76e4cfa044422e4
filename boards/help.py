"""Help: the trade's words, how what is no single figure is worked out, and the first steps of an empty shop."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from boards.models import Blank, Kind, LogEntry
from shop import pango
from shop.models import Build, FretWire, Route, SandingBlock, Shop


@dataclass(frozen=True, slots=True)
class Step:
    """One step on the way to a first traveller: what it is for, what is there already, and where it is done."""

    title: str
    why: str
    there: str
    done: bool
    link: str
    press: str


@require_GET
def words(request: HttpRequest) -> HttpResponse:
    """Show the trade's words, and how what is no single figure is worked out."""
    return render(request, "help/words.html")


@require_GET
def first_steps(request: HttpRequest) -> HttpResponse:
    """Lead an empty shop to its first traveller."""
    steps = steps_of(request.shop)
    following = next((step for step in steps if not step.done), None)
    return render(request, "help/first_steps.html", {"steps": steps, "following": following})


def is_empty() -> bool:
    """Tell whether the shop has never put a blank to anything: then it is led."""
    return not LogEntry.objects.filter(kind=Kind.ASSIGNED).exists()


def steps_of(shop: Shop) -> list[Step]:
    """List the steps, each as the shop's data say that it stands."""
    wires, routes, blocks = (model.objects.count() for model in (FretWire, Route, SandingBlock))
    blanks, builds = Blank.objects.not_scrapped(), Build.objects.all()
    free = blanks.filter(build=None, pattern=None).order_by("pk").first()
    put = blanks.exclude(Q(build=None) & Q(pattern=None)).order_by("pk").first()
    first = put or free
    tools = [f"jig {shop.jig}"] * bool(shop.jig) + [f"cutter {shop.cutter}"] * bool(shop.cutter)
    tools += [f"{blocks} sanding block{'s' if blocks != 1 else ''}"] * bool(blocks)
    return [
        Step(
            "Look over the shop's habits",
            "Units, allowances and tolerances that every board starts from. All have starting values.",
            f"Lengths in {shop.get_lengths_display().lower()}, paper {shop.get_paper_display()}."
            + ("" if shop.version else " Nobody has kept other habits yet."),
            shop.version > 0,
            reverse("shop:settings"),
            "The shop's habits",
        ),
        Step(
            "See that your fret wire and your route are there",
            "A wire has a tang and a slot; a route is the order of the stages.",
            f"{wires} wire{'s' if wires != 1 else ''} and {routes} route{'s' if routes != 1 else ''}.",
            wires > 0 and routes > 0,
            reverse("shop:kit"),
            "The kit",
        ),
        Step(
            "Say what cuts the radius",
            "A radius jig with its cutter, or a sanding block. A flat board needs neither, and a traveller prints "
            "without: it then leaves out what only a jig can say.",
            f"There: {', '.join(tools)}." if tools else "Nothing is there yet.",
            bool(tools),
            reverse("shop:new-jig"),
            "Set up a jig",
        ),
        Step(
            "Log the first blanks",
            "Measure one, give it a number, write the number on it.",
            f"{blanks.count()} in the shop, the first is {blanks.order_by('pk')[0].number}." if first else "None yet.",
            first is not None,
            reverse("boards:intake"),
            "New blanks",
        ),
        Step(
            "Write down the first build",
            "What the finished board must be: scale, frets, widths, radius, thickness.",
            f"{builds.count()} written down." if builds.exists() else "None yet.",
            builds.exists(),
            reverse("shop:new-build"),
            "New build",
        ),
        Step(
            "Put a blank to the build",
            "Its page says which builds it fits, and what it lacks for the others.",
            f"{put.number} is put to {put.spec}." if put else "No blank is put to anything yet.",
            put is not None,
            reverse("boards:blank", args=[first.number]) if first else reverse("boards:rack"),
            f"Open {first.number}" if first else "The rack",
        ),
        Step(
            "Print its traveller",
            "The sheet that goes round with the blank, and says at each bench what it must reach.",
            _printer(put),
            False,
            reverse("boards:traveller", args=[put.number]) if put else reverse("boards:rack"),
            f"Print the traveller of {put.number}" if put else "The rack",
        ),
    ]


def _printer(put: Blank | None) -> str:
    if not pango.printing_available():
        return "Printing is off on this machine: Pango is missing."
    return f"{put.number} is ready for it." if put else "It needs a blank that is put to a build."
