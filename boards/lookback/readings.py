"""How the readings of a stage ran against what they should have come to: charts of single readings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final

import numpy as np
from django.utils import timezone

from boards.lookback.period import Period
from boards.lookback.setups import pieces_of, setup_key, setup_words
from boards.models import Kind, LogEntry
from geometry.control import RULES, ControlChart, individuals, moving_range, rules_hit
from shop.models import Shop

LEAST = 10  # readings before limits are drawn (own choice; 20 to 25 are usual in the textbooks, from memory)
FIRM = 25  # readings from which on limits hardly move any more
DRAWN = 100  # the last readings that are drawn and listed; limits are reckoned from all of the period

# What is read at each stage, in `boards.readings.targets`, and the shop's tolerance for it.
READ: Final[dict[str, dict[str, tuple[str, str]]]] = {
    "thicknessing": {
        "head": ("Thickness, head end", "thickness_tolerance"),
        "heel": ("Thickness, heel end", "thickness_tolerance"),
    },
    "slotting": {"depth": ("Slot depth", "slot_tolerance")},
    "radiusing": {
        "head_treble": ("Head, treble side", "corner_tolerance"),
        "head_bass": ("Head, bass side", "corner_tolerance"),
        "heel_treble": ("Heel, treble side", "corner_tolerance"),
        "heel_bass": ("Heel, bass side", "corner_tolerance"),
        "centre": ("Thickness on the centreline", "thickness_tolerance"),
    },
    "tapering": {
        "nut_width": ("Width at the nut", "width_tolerance"),
        "heel_width": ("Width at the heel", "width_tolerance"),
    },
    "gluing": {"off_centre": ("Centreline off at the heel", "width_tolerance")},
}


@dataclass(frozen=True, slots=True)
class Board:
    """One board at a stage: how far each reading was off what it should have come to, mm."""

    blank: str
    species: str
    day: date
    setup: str
    setup_words: str
    jig: str
    off: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Group:
    """Some of the boards: how far one reading was off on average and how much it scattered, and how many were out."""

    boards: int
    mean: float | None
    deviation: float | None
    out: int


@dataclass(slots=True)
class RunChart:
    """One reading, board after board; ``at`` are places in the list of boards. Too few have no ``limits``."""

    key: str
    label: str
    tolerance: float
    at: list[int]
    off: np.ndarray
    limits: ControlChart | None
    hits: dict[int, list[str]] = field(default_factory=dict)
    range_hits: set[int] = field(default_factory=set)
    out: int = 0

    @property
    def total(self) -> int:
        """How many readings there are."""
        return len(self.at)

    @property
    def is_firm(self) -> bool:
        """Tell whether there are enough for limits that hold."""
        return self.total >= FIRM


def boards_read(stage: str, period: Period, shop: Shop, species: int | None = None) -> list[Board]:
    """Fetch the readings of a stage that have a target kept with them, the earliest first."""
    entries = LogEntry.objects.filter(
        kind=Kind.FINISHED, stage=stage, undone_by=None, at__gte=period.begins, at__lt=period.ends
    )
    entries = entries.filter(blank__species=species) if species else entries
    columns = ("pk", "at", "pressed_at", "blank__number", "blank__species__name", "made", "readings", "aims")
    rows = sorted((pressed or at, pk, *rest) for pk, at, pressed, *rest in entries.values_list(*columns) if rest[3])
    boards = []
    for at, _, blank, wood, made, readings, aims in rows:
        off = {key: float(readings[key]) - float(aims[key]) for key in READ[stage] if key in readings and key in aims}
        if off:
            key, words = setup_key(pieces_of(stage, made, shop)), setup_words(stage, made, shop)
            boards.append(Board(blank, wood, timezone.localdate(at), key, words, _jig(made), off))
    return boards


def _jig(made: Mapping[str, Any]) -> str:
    return made.get("jig") or ""


def run_chart(key: str, stage: str, boards: Sequence[Board], shop: Shop) -> RunChart | None:
    """Make the chart of one reading; None where nobody took it."""
    label, setting = READ[stage][key]
    at = [place for place, board in enumerate(boards) if key in board.off]
    if not at:
        return None
    off, tolerance = np.array([boards[place].off[key] for place in at]), float(getattr(shop, setting))
    # A reading upon the tolerance is within it, as at the bench.
    chart = RunChart(key, label, tolerance, at, off, None, out=int((np.abs(off) > tolerance + 1e-6).sum()))
    if len(at) >= LEAST:
        chart.limits = limits = individuals(off)
        for rule, hit in zip(RULES, rules_hit(off, limits.centre, limits.sigma), strict=True):
            for place in np.flatnonzero(hit):
                chart.hits.setdefault(at[place], []).append(rule)
        leaps = np.flatnonzero(moving_range(off) > limits.range_high + 1e-9) + 1
        chart.range_hits = {at[place] for place in leaps}
    return chart


def group_by(boards: Iterable[Board], what: str) -> dict[str, list[Board]]:
    """Sort boards by their wood, their setup or their jig."""
    found: dict[str, list[Board]] = defaultdict(list)
    for board in boards:
        found[getattr(board, what)].append(board)
    return dict(sorted(found.items()))


def group_of(boards: Sequence[Board], chart: RunChart) -> Group:
    """Say how one reading of some boards lay."""
    off = np.array([board.off[chart.key] for board in boards if chart.key in board.off])
    if not len(off):
        return Group(0, None, None, 0)
    deviation = float(off.std(ddof=1)) if len(off) > 1 else None
    return Group(len(off), float(off.mean()), deviation, int((np.abs(off) > chart.tolerance + 1e-6).sum()))
