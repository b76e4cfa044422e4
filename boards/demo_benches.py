"""The benches of the demo's shop: what stands on their machines, and a plan that is kept."""

from __future__ import annotations

import copy

from django.utils import timezone

from boards.figures import worked
from boards.models import Blank, Kind, LogEntry
from boards.plans import day_at, fresh_plan, went_through
from shop.models import Hand, Shop
from shop.stages import STAGES


def set_up_benches(planner: Hand) -> None:
    """Let the last board that went over each machine say what stands there, and keep a plan for the radius jig."""
    shop = Shop.current()
    for stage in STAGES:
        entries = LogEntry.objects.filter(kind=Kind.FINISHED, stage=stage, undone_by=None).select_related("by")
        if last := entries.order_by("at", "pk").last():
            then = copy.copy(Blank.objects.with_spec().get(pk=last.blank_id))
            then.done = then.stages[: then.stages.index(stage)]
            went_through(Hand(last.by, last.at, last.device), stage, worked(then, shop, as_planned=True), shop)
    day = day_at("radiusing", Shop.current(), timezone.localdate(planner.at))
    day.bench.keep_plan(planner, day.bench.version, fresh_plan(day))
