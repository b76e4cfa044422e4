"""How long a board takes at a bench: by the shop's settings, and by its own log once that says enough."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import median

from django.utils import timezone

from boards.figures import Worked
from boards.models import Kind, LogEntry
from boards.setups import Group
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
    last = list(entries.order_by("-at", "-pk").values_list("by", "at")[:LOOK_BACK])
    gaps = minutes_between(last)
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


def run_time(groups: Sequence[Group], shop: Shop) -> RunTime | None:
    """Reckon a run at the radius jig: the boards, and a change before each group whose setup does not stand already."""
    groups = [group for group in groups if group.setup.key[0] != "block"]  # a block is taken from its drawer
    boards = [board for group in groups for board in group.boards if board.result.passes]
    if not boards:
        return None
    learned = minutes_from_log("radiusing")
    each = [learned if learned is not None else minutes_by_feed(board, shop) for board in boards]
    changes = sum(_pieces(before, group) for before, group in zip([None, *groups], groups, strict=False))
    if groups and shop.standing and groups[0].setup.key[1:3] == shop.standing:
        changes -= _pieces(None, groups[0])
    minutes = float(changes * shop.changeover_minutes)
    return RunTime(sum(each) / len(each), minutes, sum(each) + minutes, learned is not None)


def minutes_by_feed(board: Worked, shop: Shop) -> float:
    """Reckon how long the cutter is in the wood of a board, by the shop's feed."""
    passes, length = board.result.passes, board.request.blank.length
    return float(cutting_minutes(passes.count, passes.depth_levels, length, float(shop.feed_mm_per_min)))


def _pieces(before: Group | None, group: Group) -> int:
    """Count what has to be changed: a former at either end, the riser."""
    if before is None:
        return 2
    return sum(one != other for one, other in zip(before.setup.key[1:], group.setup.key[1:], strict=False))
