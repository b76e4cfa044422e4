"""How was this worked out? The pages that answer it, for each figure of a blank's board or of a build's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.safestring import SafeString
from django.utils.timezone import localtime
from django.views.decorators.http import require_GET

from boards.actions import get_blank
from boards.figures import worked
from boards.models import Blank, Kind, LogEntry, replay
from geometry.errors import GeometryError
from geometry.explained import FIGURES, GROUPS, Explanation, Figure, explain, figures_of
from geometry.explained.curve import minutes_figure
from geometry.explained.sheet import Input
from geometry.request import Request
from geometry.result import Result
from geometry.workout import work_out
from shop import mathml
from shop.builds import get_build
from shop.models import Build, Former, Pattern, Shop

# Which stage's readings give what was read of a board.
STAGE_OF = {"head": "thicknessing", "heel": "thicknessing", "slot_depth": "slotting", "centre": "radiusing"}


@dataclass(frozen=True, slots=True)
class Subject:
    """A board that can be asked about: a blank's, or the one that a build wants."""

    name: str
    page: str
    how: str
    spec: Build | Pattern
    asked: Request
    found: Result
    shop: Shop
    blank: Blank | None = None
    log: Sequence[LogEntry] = ()

    def address(self, figure: str, at: int | str | None = None) -> str:
        """Give the page of one figure."""
        return f"{self.how}{figure}/" + (f"?at={at}" if at is not None else "")


@dataclass(frozen=True, slots=True)
class Given:
    """A number that was taken, as the page shows it, and where it comes from."""

    symbol: SafeString
    words: str
    number: str
    source: str
    link: str


@dataclass(frozen=True, slots=True)
class Shown:
    """A step, as the page shows it."""

    words: str
    equation: SafeString
    numbers: SafeString


def _of_blank(request: HttpRequest, number: str) -> Subject:
    blank = get_blank(number)
    board = worked(blank, request.shop)
    if board.result is None:
        raise Http404(f"There are no figures of {number}: {board.trouble or 'it is put to no build.'}")
    page, how = reverse("boards:blank", args=[number]), reverse("boards:how-blank", args=[number])
    return Subject(number, page, how, blank.spec, board.request, board.result, request.shop, blank=blank, log=board.log)


def _of_build(request: HttpRequest, number: str) -> Subject:
    build, shop = get_build(number), request.shop
    cutter = shop.cutter.as_request() if shop.cutter else None
    asked = build.as_request(cutter=cutter, scallop_max=float(shop.scallop_max))
    try:
        found = work_out(asked, shop.style)
    except GeometryError as error:
        raise Http404(f"There are no figures of {number}: {error.words}") from None
    page, how = reverse("shop:build", args=[number]), reverse("boards:how-build", args=[number])
    return Subject(str(build), page, how, build, asked, found, shop)


@require_GET
def blank_figures(request: HttpRequest, number: str) -> HttpResponse:
    """List the figures of a blank's board."""
    return _list(request, _of_blank(request, number), "rack")


@require_GET
def blank_figure(request: HttpRequest, number: str, figure: str) -> HttpResponse:
    """Show how one of them was worked out."""
    return _page(request, _of_blank(request, number), figure, "rack")


@require_GET
def build_figures(request: HttpRequest, build: str) -> HttpResponse:
    """List the figures of the board that a build wants."""
    return _list(request, _of_build(request, build), "builds")


@require_GET
def build_figure(request: HttpRequest, build: str, figure: str) -> HttpResponse:
    """Show how one of them was worked out."""
    return _page(request, _of_build(request, build), figure, "builds")


def _list(request: HttpRequest, subject: Subject, section: str) -> HttpResponse:
    rows: dict[str, list[tuple[str, str, str]]] = {group: [] for group in GROUPS}
    for each, places in figures_of(subject.found):
        value = mathml.as_shown(each.answer(subject.found, places[-1]), each.kind, subject.shop.style)
        rows[each.group].append((each.title, subject.address(each.key), f"{value}{_at(each, places[-1], ', ')}"))
    minutes = minutes_figure(subject.asked, subject.found, float(subject.shop.feed_mm_per_min))
    if minutes:
        shown = mathml.as_shown(minutes.value, "minutes", subject.shop.style)
        rows[minutes.figure.group].append((minutes.figure.title, subject.address(minutes.figure.key), shown))
    context = {"subject": subject, "groups": [(name, found) for name, found in rows.items() if found]}
    return render(request, "help/figures.html", {**context, "section": section})


def _at(figure: Figure, place: int, before: str = "") -> str:
    match figure.per:
        case "fret":
            return f"{before}{f'fret {place}' if place else 'the nut'}"
        case "pass":
            return f"{before}pass {place}".replace("-", "−")
    return ""


def _page(request: HttpRequest, subject: Subject, key: str, section: str) -> HttpResponse:
    told = _told(subject, key, request.GET.get("at", ""))
    if told is None:
        raise Http404("This board has no such figure.")
    style, figure = subject.shop.style, told.figure
    context = {
        "subject": subject,
        "told": told,
        "at": "" if told.at is None else _at(figure, told.at),
        "shown": mathml.as_shown(told.value, figure.kind, style),
        "steps": [
            Shown(step.words, mathml.equation(step), mathml.with_numbers(step, told, style)) for step in told.steps
        ],
        "givens": [_given(subject, each) for each in told.inputs],
        "places": _places(subject, told),
        "section": section,
    }
    return render(request, "help/figure.html", context)


def _told(subject: Subject, key: str, at: str) -> Explanation | None:
    if key == "minutes":
        return minutes_figure(subject.asked, subject.found, float(subject.shop.feed_mm_per_min))
    if key not in FIGURES:
        return None
    place = None
    if at:
        if not (at.lstrip("-").isascii() and at.lstrip("-").isdigit() and len(at) < 5):
            return None
        place = int(at)
    return explain(key, subject.asked, subject.found, place)


def _places(subject: Subject, told: Explanation) -> list[tuple[str, str]]:
    """Link the other frets or passes; none where the figure stands alone."""
    if told.at is None:
        return []
    places = next((places for each, places in figures_of(subject.found) if each is told.figure), [])
    return [
        (str(place).replace("-", "−") if place or told.figure.per == "pass" else "nut",
         "" if place == told.at else subject.address(told.figure.key, place))
        for place in places
    ]  # fmt: skip


def _given(subject: Subject, each: Input) -> Given:
    words, link = _source(subject, each.source)
    number = mathml.number(each.value, each.kind, subject.shop.style)
    return Given(mathml.symbol(each.symbol), each.words, number, words, link)


def _source(subject: Subject, source: str) -> tuple[str, str]:
    """Say where a number comes from, with its address."""
    kind, _, rest = source.partition(":")
    shop, spec = subject.shop, subject.spec
    match kind:
        case "spec" | "allowance":
            page = reverse("shop:edit-build", args=[spec.number]) if isinstance(spec, Build) else \
                reverse("shop:pattern", args=[spec.pk])  # fmt: skip
            return f"{'the spec' if kind == 'spec' else 'allowances in the spec'} of {spec}", page
        case "wire":
            return f"wire {spec.wire}", reverse("shop:kit")
        case "blank":
            return f"{subject.name} as measured", subject.page
        case "cutter" if shop.cutter:
            return f"cutter {shop.cutter}", reverse("shop:cutter", args=[shop.cutter.pk])
        case "jig" if shop.jig:
            return f"jig {shop.jig}", reverse("shop:jig", args=[shop.jig.pk])
        case "former" if shop.jig and (former := Former.objects.filter(jig=shop.jig, name=rest).first()):
            return f"former {former}", reverse("shop:former", args=[shop.jig.pk, former.pk])
        case "habits":
            return "the shop's habits", reverse("shop:settings")
        case "air":
            return "the shop's air", reverse("shop:air")
        case "wood" if subject.blank:
            return str(subject.blank.species), reverse("shop:wood", args=[subject.blank.species.pk])
        case "reading":
            return _reading(subject, rest), subject.page
        case "figure":
            key, _, at = rest.partition(":")
            return "worked out", subject.address(key, at or None)
    return "", ""


def _reading(subject: Subject, name: str) -> str:
    """Say on which day something was read."""
    stage = STAGE_OF.get(name)
    standing = [entry for entry, _ in replay(sorted(subject.log, key=lambda entry: entry.number))[1]]
    finished = [entry for entry in standing if entry.kind == Kind.FINISHED and stage in (None, entry.stage)]
    if not finished:
        return f"the log of {subject.name}"
    last = finished[-1]
    return f"the log of {subject.name}, {date_format(localtime(last.at).date())}"
