"""The pages of what boards cost: over months and builds, of one build, and the tables of both to take away."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from boards.actions import word_asked
from boards.costs import MINUTES_RULE, SOURCES, BoardCost, Costs, costs_between, costs_of_build
from boards.exporting import hand_out
from boards.lookback.period import PeriodForm
from boards.lookback.setups import NOT_TOLD
from boards.material import RULE, Sharing
from boards.tables.table import Column, Kind, Table
from shop.builds import get_build
from shop.models import Build, Species, Week

DAYS = 365
MOST_BUILDS = 100  # on a page; the table to take away has all


@dataclass(frozen=True, slots=True)
class Part:
    """What some of the boards cost: those of a month, or of a build."""

    of: Any
    costs: Costs


@require_GET
def costs(request: HttpRequest) -> HttpResponse:
    """Show what the boards cost that came good in a period, by month and by build."""
    today = timezone.localdate()
    form = PeriodForm(request.GET, today=today, days=DAYS)
    period = form.period
    found = costs_between(period, request.shop, today=today)
    builds = _parts(found.boards, lambda board: board.blank.build)
    context = {
        "form": form,
        "period": period,
        "found": found,
        "months": _parts(found.boards, lambda board: board.good_on.replace(day=1)),
        "builds": builds[:MOST_BUILDS],
        "builds_more": max(len(builds) - MOST_BUILDS, 0),
        "woods": _woods(period.last),
        **_rules(),
    }
    return render(request, "boards/costs.html", context, status=200 if form.is_valid() else 422)


def _parts(boards: Iterable[BoardCost], of: Any) -> list[Part]:
    """Sort boards into parts, the latest first; boards that are for no build come last."""
    parts: dict[Any, list[BoardCost]] = defaultdict(list)
    for board in sorted(boards, key=lambda board: (board.good_on, board.blank.number), reverse=True):
        parts[of(board)].append(board)
    found = [Part(key, Costs(its)) for key, its in parts.items()]
    return sorted(found, key=lambda part: part.of is None)


def _woods(day: date) -> list[tuple[Species, Any]]:
    """Say for every wood what a board would bear that comes good on a day."""
    sharing = Sharing(day, day)
    shares = [(wood, sharing.share(wood.pk, day)) for wood in Species.objects.filter(pk__in=sharing.species)]
    return [(wood, share) for wood, share in shares if share.scrapped or share.good]


def _rules() -> dict[str, Any]:
    week = Week.current()
    return {
        "money": week.money,
        "has_rates": any(getattr(week, name) is not None for name in Week.RATES[1:]),
        "wood_rule": RULE,
        "minutes_rule": MINUTES_RULE,
        "not_told": NOT_TOLD,
        "section": "builds",
    }


@require_GET
def build_cost(request: HttpRequest, build: str) -> HttpResponse:
    """Show what a build cost so far, board by board and stage by stage."""
    wanted = get_build(build)
    found = costs_of_build(wanted, request.shop, today=timezone.localdate())
    return render(request, "boards/build_cost.html", {"build": wanted, "found": found, **_rules()})


@require_GET
def boards_table(request: HttpRequest) -> HttpResponse | StreamingHttpResponse:
    """Hand out what each board cost: those of a period, or of one build."""
    return _table_of(request, _boards)


@require_GET
def stages_table(request: HttpRequest) -> HttpResponse | StreamingHttpResponse:
    """Hand out what each stage of each board took and cost."""
    return _table_of(request, _stages)


def _table_of(request: HttpRequest, make: Any) -> HttpResponse | StreamingHttpResponse:
    today = timezone.localdate()
    if number := word_asked(request, "build", 24):
        build: Build = get_build(number)
        return hand_out(request, make(costs_of_build(build, request.shop, today=today)))
    form = PeriodForm(request.GET, today=today, days=DAYS)
    if not form.is_valid():
        return costs(request)  # which says what is wrong with the days
    return hand_out(request, make(costs_between(form.period, request.shop, today=today)))


_BOARD = (
    Column("blank", Kind.TEXT, "The number of the blank."),
    Column("build", Kind.TEXT, "The build that it is for."),
    Column("pattern", Kind.TEXT, "The pattern that it follows, where that is no build."),
    Column("species", Kind.TEXT, "The wood."),
)


def _boards(found: Costs) -> Table:
    columns = (
        *_BOARD,
        Column("condition", Kind.TEXT, "Whether it may be worked on: active, held or scrapped."),
        Column("came_good_on", Kind.DAY, "When the last stage was done."),
        Column("wood", Kind.NUMBER, "What its blank cost; 0 for one that was scrapped."),
        Column("scrap_share", Kind.NUMBER, RULE),
        Column("minutes", Kind.NUMBER, "Minutes of all its stages."),
        Column("setup_minutes", Kind.NUMBER, "Its share of the minutes of setting up."),
        Column("work", Kind.NUMBER, "What is known of the cost of its work."),
        Column("total", Kind.NUMBER, "All that is known."),
        Column("not_known", Kind.TEXT, "What is not known, and is in no sum."),
    )

    def rows() -> Iterator[tuple[Any, ...]]:
        for board in found.boards:
            yield (
                *_names(board),
                board.blank.condition,
                board.good_on,
                _cents(board.wood),
                _cents(board.scrap),
                round(board.minutes, 1),
                round(board.setup, 1),
                _cents(board.work),
                _cents(board.total),
                "; ".join(board.unknown),
            )

    return Table("cost_by_board", "Costs", "What each board cost.", columns, rows)


def _stages(found: Costs) -> Table:
    columns = (
        *_BOARD,
        Column("stage", Kind.TEXT, "The stage."),
        Column("at", Kind.MOMENT, "When it was finished."),
        Column("minutes", Kind.NUMBER, "What it took."),
        Column("minutes_from", Kind.TEXT, f"Where the minutes come from: {', '.join(SOURCES)}."),
        Column("setup_minutes", Kind.NUMBER, "Its share of the minutes of setting up."),
        Column("rate", Kind.NUMBER, "What an hour costs there."),
        Column("cost", Kind.NUMBER, "What it cost; empty where an hour has no cost."),
    )

    def rows() -> Iterator[tuple[Any, ...]]:
        for board in found.boards:
            for each in board.stages:
                took = (round(each.minutes, 1), each.source, round(each.setup, 1))
                yield (*_names(board), each.stage, each.at, *took, each.rate, _cents(each.cost))

    return Table("cost_by_stage", "Costs", "What each stage of each board took and cost.", columns, rows)


def _names(board: BoardCost) -> tuple[Any, ...]:
    blank = board.blank
    return blank.number, blank.build and blank.build.number, blank.pattern and blank.pattern.name, blank.species.name


def _cents(value: Any) -> Any:
    return None if value is None else round(value, 2)
