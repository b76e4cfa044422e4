"""The pages that look back: over all stages, and at the readings of one."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import urlencode

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.safestring import SafeString
from django.views.decorators.http import require_GET

from boards.actions import get_stage
from boards.lookback.period import PeriodForm
from boards.lookback.readings import (
    DRAWN,
    FIRM,
    LEAST,
    READ,
    Board,
    Group,
    RunChart,
    boards_read,
    group_by,
    group_of,
    run_chart,
)
from boards.lookback.setups import NOT_TOLD
from boards.lookback.times import Took, by_setup, by_stage, changeovers
from boards.lookback.work import done_between, work_done
from boards.lookback.yields import Reasons, reasons, yield_by_stage, yield_by_wood
from boards.models import Kind
from geometry.control import RULES
from shop.drawings.bar import draw_bar
from shop.drawings.runchart import draw_run_chart
from shop.models import Shop, Species
from shop.stages import STAGES

DAYS = 90
MOST_SETUPS = 12  # of each stage, on the page


class LookBackForm(PeriodForm):
    """Days and a wood."""

    species = forms.ModelChoiceField(Species.objects.all(), label="Wood", required=False, empty_label="All woods")

    @property
    def wood(self) -> int | None:
        """The wood that was chosen, by its key."""
        chosen = self.cleaned_data.get("species") if self.is_valid() else None
        return chosen.pk if chosen else None

    @property
    def query(self) -> str:
        """Write what was asked as addresses have it."""
        return self.period.query + (f"&species={self.wood}" if self.wood else "")


class ReadingsBackForm(LookBackForm):
    """Days, a wood, a setup and a jig; setups and jigs are those of the days."""

    setup = forms.CharField(required=False, max_length=300, widget=forms.Select)
    jig = forms.CharField(required=False, max_length=80, widget=forms.Select)

    def offer(self, boards: list[Board]) -> list[Board]:
        """Offer the setups and the jigs of some boards, and give those of the boards that are wanted."""
        setups = sorted({(board.setup, board.setup_words) for board in boards}, key=lambda pair: pair[1])
        jigs = sorted({board.jig for board in boards} - {""})
        self.fields["setup"].widget.choices = [("", "All setups"), *dict(setups).items()]
        self.fields["jig"].widget.choices = [("", "All jigs"), *((jig, jig) for jig in jigs)]
        for name, there in (("setup", len(dict(setups)) > 1), ("jig", jigs)):
            if not (there or self.data.get(name)):
                del self.fields[name]
        typed = self.cleaned_data if self.is_valid() else {}
        for name in ("setup", "jig"):
            if wanted := typed.get(name):
                boards = [board for board in boards if getattr(board, name) == wanted]
        return boards


@dataclass(frozen=True, slots=True)
class RuledReason:
    """A reason with its bar."""

    words: str
    times: int
    so_far: int
    bar: SafeString


@require_GET
def look_back(request: HttpRequest) -> HttpResponse:
    """Show what stages took, how often machines were changed over, what came of boards, and why some were spoiled."""
    form = LookBackForm(request.GET, today=timezone.localdate(), days=DAYS)
    period, wood, shop = form.period, form.wood, request.shop
    works = [work for work in work_done(done_between(period.begins, period.ends), shop) if work.at >= period.begins]
    chosen = form.cleaned_data["species"].name if wood else ""
    of_wood = [work for work in works if work.species == chosen] if chosen else works
    context = {
        "form": form,
        "period": period,
        "wood": chosen,
        "stages": list(STAGES.values()),
        "took": by_stage(of_wood),
        "setups": [_setups(label, rows) for label, rows in by_setup(of_wood, shop)],
        "changes": changeovers(works),
        "not_told": NOT_TOLD,
        "by_stage": yield_by_stage(period, wood),
        "by_wood": yield_by_wood(period, wood),
        "spoiled": [
            (words, *_with_bars(reasons(period, kind, wood)))
            for words, kind in (
                ("Why boards were scrapped", Kind.SCRAPPED),
                ("Why boards were sent back", Kind.REWORKED),
            )
        ],
        "section": "benches",
    }
    return render(request, "boards/look_back.html", context, status=200 if form.is_valid() else 422)


def _setups(label: str, rows: list[Took]) -> tuple[str, list[Took], int]:
    return label, rows[:MOST_SETUPS], max(len(rows) - MOST_SETUPS, 0)


def _with_bars(found: Reasons) -> tuple[Reasons, list[RuledReason]]:
    most = max((row.times for row in found.rows), default=0)
    return found, [
        RuledReason(row.words, row.times, row.so_far, draw_bar(row.times, most, f"{row.times} of {found.total}"))
        for row in found.rows
    ]


@dataclass(frozen=True, slots=True)
class Drawn:
    """A chart on the page: its figures, its drawing, and what is listed of the boards that met a rule."""

    chart: RunChart
    drawing: SafeString
    met: list[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Row:
    """One board in the table: how far each reading was off, and what it met."""

    board: Board
    cells: list[tuple[float | None, str]]


@require_GET
def look_back_at(request: HttpRequest, stage: str) -> HttpResponse:
    """Show how the readings of a stage ran against what they should have come to."""
    this, shop = get_stage(stage), request.shop
    form = ReadingsBackForm(request.GET, today=timezone.localdate(), days=DAYS)
    period = form.period
    boards = form.offer(boards_read(stage, period, shop, form.wood))
    charts = [chart for key in READ[stage] if (chart := run_chart(key, stage, boards, shop))]
    first = max(len(boards) - DRAWN, 0)
    context = {
        "form": form,
        "stage": this,
        "stages": list(STAGES.values()),
        "period": period,
        "query": urlencode({"since": period.first.isoformat(), "until": period.last.isoformat()}),
        "count": len(boards),
        "drawn": [_drawn(chart, boards, first, shop) for chart in charts],
        "charts": charts,
        "rows": [_row(boards[place], place, charts) for place in reversed(range(first, len(boards)))],
        "more": first,
        "groups": _groups(boards, charts),
        "rules": list(enumerate(RULES, 1)),
        "least": LEAST,
        "firm": FIRM,
        "section": "benches",
    }
    return render(request, "boards/look_back_at.html", context, status=200 if form.is_valid() else 422)


def _drawn(chart: RunChart, boards: list[Board], first: int, shop: Shop) -> Drawn:
    """Draw the last boards of a chart; a ring has the numbers of the rules that were met there."""
    here = [(k, place) for k, place in enumerate(chart.at) if place >= first]
    shown = {place: j for j, (_, place) in enumerate(here)}
    numbers = {rule: str(number) for number, rule in enumerate(RULES, 1)}
    hits = {place: rules for place, rules in chart.hits.items() if place in shown}
    drawing = draw_run_chart(
        [float(chart.off[k]) for k, _ in here],
        [boards[place].blank for _, place in here],
        limits=chart.limits,
        tolerance=chart.tolerance,
        marks={shown[place]: ", ".join(numbers[rule] for rule in rules) for place, rules in hits.items()},
        leaps={shown[place] for place in chart.range_hits if shown.get(place)},
        style=shop.style,
        title=chart.label,
    ) if here else SafeString()  # fmt: skip
    return Drawn(chart, drawing, [(boards[place].blank, "; ".join(rules)) for place, rules in hits.items()])


def _row(board: Board, place: int, charts: list[RunChart]) -> Row:
    cells = []
    for chart in charts:
        off = board.off.get(chart.key)
        said = list(chart.hits.get(place, ()))
        if off is not None and abs(off) > chart.tolerance + 1e-6:
            said.insert(0, "out of tolerance")
        if place in chart.range_hits:
            said.append("far from the board before")
        cells.append((off, "; ".join(said)))
    return Row(board, cells)


def _groups(boards: list[Board], charts: list[RunChart]) -> list[tuple[str, list[tuple[str, list[Group]]]]]:
    """Set woods, setups and jigs beside one another, where there is more than one of them."""
    found = []
    for title, what in (("By wood", "species"), ("By setup", "setup_words"), ("By jig", "jig")):
        groups = group_by(boards, what)
        if len(groups) > 1 or (what == "jig" and any(groups)):
            rows = [
                (name or "Not kept in the log", [group_of(its, chart) for chart in charts])
                for name, its in groups.items()
            ]
            found.append((title, rows))
    return found
