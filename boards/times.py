"""How long a board takes at a bench: by the shop's settings, and by its own log once that says enough."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median

from django.utils import timezone

from boards.figures import Worked
from boards.models import Kind, LogEntry
from boards.ordering import Run
from geometry.passes import cutting_minutes
from shop.models import Shop

ENOUGH = 10  # boards after which the log is believed
LOOK_BACK = 200  # log entries
LONGEST_MINUTES = 90  # a longer gap is a break, not a board (common practice, no source)


@dataclass(frozen=True, slots=True)
class RunTime:
    """Minutes of a whole run, and whether they come from the log."""

    board: float
    changes: float
    total: float
    learned: bool


def minutes_from_log(stage: str) -> float | None:
    """Take the middle of the gaps between one finished board and the next, by one person on one day.

    None before there are ten gaps.
    """
    entries = LogEntry.objects.filter(kind=Kind.FINISHED, stage=stage, undone_by=None)
    last = entries.order_by("-at", "-pk").values_list("by", "at", "pressed_at")[:LOOK_BACK]
    # What was pressed without the network arrives all at once: what counts is when it was pressed.
    pressed = [(by, pressed_at or at) for by, at, pressed_at in last]
    gaps = minutes_between(sorted(pressed, key=lambda press: press[1], reverse=True))
    return median(gaps) if len(gaps) >= ENOUGH else None


def minutes_between(finished: Sequence[tuple[int, datetime]]) -> list[float]:
    """List the gaps between boards that one person finished one after another, the latest first."""
    later: dict[tuple[int, object], datetime] = {}
    gaps = []
    for by, at in finished:
        key = (by, timezone.localtime(at).date())
        if key in later:
            gap = (later[key] - at).total_seconds() / 60
            if 0 < gap <= LONGEST_MINUTES:
                gaps.append(gap)
        later[key] = at
    return gaps


def run_time(stage: str, runs: Sequence[Run], shop: Shop) -> RunTime | None:
    """Reckon runs: the boards, and the changes before them. None where nothing is known of the boards."""
    learned = minutes_from_log(stage)
    boards = [board for run in runs for board in run.boards]
    if stage == "radiusing":
        boards = [board for board in boards if board.result.passes]  # a block takes as long as it takes
        each = [minutes_by_feed(board, shop) if learned is None else learned for board in boards]
    elif stage == "gluing":
        rounds = sum(run.rounds for run in runs)
        each = [rounds * shop.clamp_minutes / len(boards)] * len(boards) if boards else []
        learned = None
    else:
        each = [learned] * len(boards) if learned is not None else []
    if not each:
        return None
    changes = sum(run.minutes for run in runs)
    return RunTime(sum(each) / len(each), changes, sum(each) + changes, learned is not None)


def minutes_by_feed(board: Worked, shop: Shop) -> float:
    """Reckon how long the cutter is in the wood of a board, by the shop's feed."""
    passes, length = board.result.passes, board.request.blank.length
    return float(cutting_minutes(passes.count, passes.depth_levels, length, float(shop.feed_mm_per_min)))
