"""Benches: one page for each stage, with the boards that are ready for it."""

from __future__ import annotations

from datetime import datetime, time
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from boards.actions import get_stage, word_asked
from boards.figures import Worked
from boards.models import Kind, LogEntry
from boards.ordering import Run
from boards.plans import Day, day_at
from boards.readings import ReadingsForm, targets
from boards.setup_card import setup_card
from geometry.result import Warning
from shop.models import Hand, Refused, Shop
from shop.presses import carry_out, seen_version
from shop.stages import STAGES


@require_GET
def benches(request: HttpRequest) -> HttpResponse:
    """Show every bench: how many boards wait there, how long they take, and what to set up first."""
    days = [(stage, day_at(key, request.shop, timezone.localdate())) for key, stage in STAGES.items()]
    return render(request, "boards/benches.html", {"days": days, "section": "benches"})


def run_of(stage: str, request: HttpRequest) -> tuple[list[Run], list[Worked]]:
    """List the boards that are ready at a bench: in runs, in the order of the day, and those that have no figures."""
    day = day_at(stage, request.shop, timezone.localdate())
    return day.all_runs, day.without


@require_GET
def bench(request: HttpRequest, stage: str) -> HttpResponse:
    """Show a bench: the board in hand, or first how to set up for it; what stands on the machine; the run."""
    this, today = get_stage(stage), timezone.localdate()
    day_plan = day_at(this.key, request.shop, today)
    wanted, card_for = word_asked(request, "board", 24), word_asked(request, "setup", 24)
    run, board = _chosen(day_plan, wanted or card_for)
    found = bool(board) and board.blank.number == (wanted or card_for)
    done_today = _done_today(stage)
    context = {
        "stage": this,
        "here": reverse("boards:bench", args=[stage]),
        "day": today,
        "day_plan": day_plan,
        "total": len(day_plan.boards),
        "run": run,
        "board": board,
        "gone": "" if found else wanted or card_for,
        "done_today": done_today[:12] if board else done_today,
        "done_count": len(done_today),
        "section": "benches",
    }
    if board:
        context |= {"set_up": day_plan.is_set_up_for(run), "turned": board.blank.number in run.turned}
        # Who asks for a board gets it: the card is never a wall.
        if (card_for and found) or not (context["set_up"] or wanted):
            context["card"] = setup_card(this.key, run, day_plan)
        else:
            context |= _in_hand(this.key, run, board, request.shop)
    return render(request, "boards/bench.html", context)


def _chosen(day: Day, number: str) -> tuple[Run | None, Worked | None]:
    """Find the board that was asked for with its run, or else the first of all."""
    boards = day.boards
    return next((pair for pair in boards if pair[1].blank.number == number), boards[0] if boards else (None, None))


def _in_hand(stage: str, run: Run, board: Worked, shop: Shop) -> dict[str, Any]:
    """Gather what the board in hand needs, and what is read of it."""
    blank = board.blank
    asked = targets(stage, blank, board.request, board.result, shop)
    return {
        "in_hand": blank.number,
        "warnings": [each for each in board.result.warnings if stage == "radiusing" or not _is_of_the_cut(each)],
        "finish_form": ReadingsForm(targets=asked, shop=shop),
        "lies_at": _lies_at(board, shop, turned=blank.number in run.turned) if stage == "radiusing" else None,
        "back_to": STAGES[blank.done[-1]] if blank.done else None,
        "then": reverse("boards:bench", args=[stage]),
    }


def _is_of_the_cut(warning: Warning) -> bool:
    """Tell whether it matters only where the curve is cut; what stops a board is said everywhere."""
    return warning.level == "caution" and warning.code in {"deep-cut", "apex-drift", "no-former-fits"}


def _lies_at(board: Worked, shop: Shop, *, turned: bool) -> float | None:
    """Say where the nut lies on the rule of the bed; a board that is turned counts from the jig's other former."""
    setup = board.result.setup
    if board.block or not (setup and setup.fits):
        return None
    return shop.jig.on_rule(float(shop.jig.span) - setup.nut_at if turned else setup.nut_at)


@require_POST
def stand(request: HttpRequest, stage: str) -> HttpResponse:
    """Write down that the machine is set up for a run, as somebody says who sees it and has proved it."""
    key, seen = get_stage(stage).key, seen_version(request)

    def do(hand: Hand) -> str:
        day = day_at(key, request.shop, timezone.localdate())
        run = next((run for run in day.all_runs if run.key == request.POST.get("run")), None)
        if run is None:
            raise Refused("That run is not there any more. Open the bench again and look first.")
        day.bench.stand(hand, seen, run.pieces, request.shop)
        return reverse("boards:bench", args=[key])

    return carry_out(request, do, said="It stands so.")


@require_GET
def bench_run(request: HttpRequest, stage: str) -> HttpResponse:
    """Show the run alone, for a page that stands open and has heard of boards that came."""
    this, today = get_stage(stage), timezone.localdate()
    context = {"stage": this, "day": today, "day_plan": day_at(this.key, request.shop, today)}
    context |= {"in_hand": word_asked(request, "board", 24)}
    return render(request, "boards/_run.html", context)


def _done_today(stage: str) -> list[LogEntry]:
    """List what was finished here today and still stands."""
    midnight = timezone.make_aware(datetime.combine(timezone.localdate(), time.min))
    entries = LogEntry.objects.filter(kind=Kind.FINISHED, stage=stage, at__gte=midnight, undone_by=None)
    latest: dict[int, LogEntry] = {}
    for entry in entries.select_related("blank", "by").order_by("-at", "-pk"):
        if stage in entry.blank.done:  # otherwise it has been sent back since
            latest.setdefault(entry.blank_id, entry)
    return list(latest.values())
