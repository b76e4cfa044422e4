"""What a person does about the order of the day: plan it anew, move a run, pin it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from boards.plans import Day, as_plan, day_at, fresh_plan
from shop.models import Hand, Refused
from shop.presses import carry_out, seen_version
from shop.stages import STAGES

_GONE = "That run is not there any more. Open the bench again and look first."


class RunForm(forms.Form):
    """The run that somebody changes, as it is called on pages."""

    run = forms.ChoiceField()

    def __init__(self, *args: Any, day: Day, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["run"].choices = [(run.key, run.setup.words) for run in day.all_runs]


def _day(request: HttpRequest, stage: str) -> Day:
    if stage not in STAGES:
        raise Http404("There is no such bench.")
    return day_at(stage, request.shop, timezone.localdate())


def _bench_page(stage: str) -> str:
    return reverse("boards:bench", args=[stage])


@require_POST
def plan(request: HttpRequest, stage: str) -> HttpResponse:
    """Plan the day anew, from what stands and waits now."""
    day, seen = _day(request, stage), seen_version(request)

    def do(hand: Hand) -> str:
        if not day.queue.boards:
            raise Refused(f"No board waits for {STAGES[stage].label.lower()}.")
        day.bench.keep_plan(hand, seen, fresh_plan(day))
        return _bench_page(stage)

    return carry_out(request, do, said="The order is kept.")


@require_POST
def move(request: HttpRequest, stage: str, where: str) -> HttpResponse:
    """Let a run go earlier or later, past the one beside it."""
    if where not in ("earlier", "later"):
        raise Http404("A run goes earlier or later.")
    return _change(request, stage, lambda day, runs, place: _move(day, runs, place, -1 if where == "earlier" else 1))


def _move(day: Day, runs: list[dict[str, Any]], place: int, step: int) -> None:
    left = {run.key for run in day.runs}
    beside = place + step
    while 0 <= beside < len(runs) and runs[beside]["key"] not in left:
        beside += step  # runs that are done stay in the plan, but nobody sees them
    if not 0 <= beside < len(runs):
        raise Refused(f"That run is the {'first' if step < 0 else 'last'} already.")
    runs[place], runs[beside] = runs[beside], runs[place]


@require_POST
def pin(request: HttpRequest, stage: str) -> HttpResponse:
    """Pin a run to where it is, or loosen it."""

    def toggle(_day: Day, runs: list[dict[str, Any]], place: int) -> None:
        runs[place]["pinned"] = not runs[place]["pinned"]

    return _change(request, stage, toggle)


def _change(request: HttpRequest, stage: str, change: Callable[[Day, list[dict[str, Any]], int], None]) -> HttpResponse:
    """Change the plan by hand. What nobody has planned yet is kept first, in the order in which it shows."""
    day, seen, key = _day(request, stage), seen_version(request), request.POST.get("run", "")

    def do(hand: Hand) -> str:
        plan = day.bench.plan if day.planned else as_plan(day, day.runs)
        place = next((at for at, run in enumerate(plan["runs"]) if run["key"] == key), None)
        if place is None or key not in {run.key for run in day.runs}:
            raise Refused(_GONE)
        before = [run["key"] for run in plan["runs"]]
        change(day, plan["runs"], place)
        plan["moved"] = plan["moved"] or before != [run["key"] for run in plan["runs"]]
        if day.planned:
            day.bench.change_plan(seen, plan)
        else:
            day.bench.keep_plan(hand, seen, plan)
        return f"{_bench_page(stage)}?order=changing#plan"

    return carry_out(request, do, form=RunForm(request.POST, day=day))
