"""Benches: one page for each stage, with the boards that are ready for it."""

from __future__ import annotations

from datetime import datetime, time

from django.db.models import Count, OuterRef, QuerySet, Subquery
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from boards.blanks import ReasonForm
from boards.figures import Worked
from boards.models import Blank, Condition, Kind, LogEntry
from boards.ordering import Run
from boards.plans import day_at
from boards.readings import ReadingsForm, targets
from shop.models import Build
from shop.presses import new_tap
from shop.stages import STAGES, Stage


def _stage(key: str) -> Stage:
    try:
        return STAGES[key]
    except KeyError:
        raise Http404("There is no such bench.") from None


def counts() -> dict[str, int]:
    """Count the boards that are ready at each bench."""
    rows = Blank.objects.in_work().exclude(next_stage="").values("next_stage").annotate(boards=Count("pk"))
    return {row["next_stage"]: row["boards"] for row in rows}


@require_GET
def today(request: HttpRequest) -> HttpResponse:
    """Show what is late, what each bench has to do, and what came in."""
    day = timezone.localdate()
    ready = counts()
    open_builds = list(Build.objects.open()[:60])
    context = {
        "day": day,
        "late": [build for build in open_builds if build.is_late(day)],
        "soon": [
            build
            for build in open_builds
            if build.due_on and 0 <= (build.due_on - day).days <= request.shop.horizon_days
        ],
        "benches": [(stage, ready.get(key, 0)) for key, stage in STAGES.items()],
        "held": _held(),
        "came_in": Blank.objects.filter(received_on=day).count(),
        "lately": LogEntry.objects.with_words().select_related("blank").order_by("-at", "-pk")[:10],
        "section": "today",
    }
    return render(request, "boards/today.html", context)


def _held() -> QuerySet[Blank]:
    """List what is held, each with the reason that stands."""
    reasons = LogEntry.objects.filter(blank=OuterRef("pk"), kind=Kind.HELD, undone_by=None).order_by("-number")
    held = Blank.objects.filter(condition=Condition.HELD).with_spec()
    return held.annotate(held_because=Subquery(reasons.values("reason")[:1]))[:20]


@require_GET
def benches(request: HttpRequest) -> HttpResponse:
    """List the benches with how many boards are ready at each."""
    ready = counts()
    context = {"benches": [(stage, ready.get(key, 0)) for key, stage in STAGES.items()], "section": "benches"}
    return render(request, "boards/benches.html", context)


def run_of(stage: str, request: HttpRequest) -> tuple[list[Run], list[Worked]]:
    """List the boards that are ready at a bench: in runs, in the order of the day, and those that have no figures."""
    day = day_at(stage, request.shop, timezone.localdate())
    return day.all_runs, day.without


@require_GET
def bench(request: HttpRequest, stage: str) -> HttpResponse:
    """Show a bench: what stands on the machine, the run, the board in hand."""
    this = _stage(stage)
    day_plan = day_at(this.key, request.shop, timezone.localdate())
    groups, without = day_plan.all_runs, day_plan.without
    boards = [(group, board) for group in groups for board in group.boards]
    wanted = request.GET.get("board", "")
    group, board = next(
        (pair for pair in boards if pair[1].blank.number == wanted), boards[0] if boards else (None, None)
    )
    context = {
        "stage": this,
        "day": timezone.localdate(),
        "day_plan": day_plan,
        "groups": groups,
        "without": without,
        "total": len(boards),
        "group": group,
        "board": board,
        "chosen": bool(board and board.blank.number == wanted),
        "gone": "" if board and board.blank.number == wanted else wanted[:24],
        "time": day_plan.time,
        "done_today": _done_today(stage),
        "tap": new_tap(),
        "hold_form": ReasonForm(prefix="hold"),
        "section": "benches",
    }
    if board:
        asked = targets(stage, board.blank, board.request, board.result, request.shop)
        context["finish_form"] = ReadingsForm(targets=asked, shop=request.shop)
        setup = board.result.setup
        context["nut_on_rule"] = request.shop.jig.on_rule(setup.nut_at) if setup else None
        context["then"] = reverse("boards:bench", args=[stage])
    return render(request, "boards/bench.html", context)


@require_GET
def bench_run(request: HttpRequest, stage: str) -> HttpResponse:
    """Show the run alone, as the page fetches it anew from time to time."""
    this = _stage(stage)
    day_plan = day_at(this.key, request.shop, timezone.localdate())
    context = {"stage": this, "day_plan": day_plan, "in_hand": request.GET.get("board", "")}
    context["day"] = timezone.localdate()
    return render(request, "boards/_run.html", context)


def _done_today(stage: str) -> list[LogEntry]:
    """List what was finished here today and still stands."""
    midnight = timezone.make_aware(datetime.combine(timezone.localdate(), time.min))
    entries = LogEntry.objects.filter(kind=Kind.FINISHED, stage=stage, at__gte=midnight, undone_by=None)
    latest: dict[int, LogEntry] = {}
    for entry in entries.select_related("blank", "by").order_by("-at", "-pk"):
        if stage in entry.blank.done:  # otherwise it has been sent back since
            latest.setdefault(entry.blank_id, entry)
    return list(latest.values())[:12]
