"""What came of boards in a period: how many went on, how many were sent back or scrapped, and why, as written."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from boards.lookback.period import Period
from boards.material import came_good
from boards.models import Condition, Kind, LogEntry
from shop.stages import STAGES

MOST_REASONS = 25


@dataclass(frozen=True, slots=True)
class StageYield:
    """What came of the boards that were at a stage: each board counts once, by the worst that happened to it there."""

    name: str
    started: int
    good: int
    sent_back: int
    scrapped: int

    @property
    def in_hundred(self) -> float:
        """How many of a hundred went on at the first go."""
        return 100 * self.good / self.started


@dataclass(frozen=True, slots=True)
class WoodYield:
    """What became of the boards of a wood that left the shop's benches in a period."""

    name: str
    ended: int
    good: int
    scrapped: int

    @property
    def in_hundred(self) -> float:
        """How many of a hundred came good."""
        return 100 * self.good / self.ended


@dataclass(frozen=True, slots=True)
class Reason:
    """A reason as it was written, and how often; ``so_far`` counts it together with all above it."""

    words: str
    times: int
    so_far: int
    share: float


@dataclass(frozen=True, slots=True)
class Reasons:
    """The reasons for one thing, the most frequent first; ``others`` are those that are not listed."""

    total: int
    rows: list[Reason]
    others: int


def yield_by_stage(period: Period, species: int | None = None) -> list[StageYield]:
    """Count what came of boards at each stage."""
    boards: dict[str, dict[str, set[int]]] = {stage: defaultdict(set) for stage in STAGES}
    for kind, stage, waited_for, blank in _happened(
        period, species, (Kind.FINISHED, Kind.REWORKED, Kind.SCRAPPED)
    ).values_list("kind", "stage", "from_stage", "blank"):
        at = waited_for if kind == Kind.SCRAPPED else stage
        if at in boards:
            boards[at][kind].add(blank)
    rows = []
    for key, stage in STAGES.items():
        scrapped = boards[key][Kind.SCRAPPED]
        back = boards[key][Kind.REWORKED] - scrapped
        good = boards[key][Kind.FINISHED] - scrapped - back
        if started := len(good | back | scrapped):
            rows.append(StageYield(stage.label, started, len(good), len(back), len(scrapped)))
    return rows


def yield_by_wood(period: Period, species: int | None = None) -> list[WoodYield]:
    """Count what came good and what was scrapped of each wood."""
    good: Counter[str] = Counter()
    scrapped: Counter[str] = Counter()
    came = LogEntry.objects.filter(came_good(), at__gte=period.begins, at__lt=period.ends)
    came = came.filter(blank__species=species) if species else came
    for wood, _ in set(came.values_list("blank__species__name", "blank")):
        good[wood] += 1
    gone = _happened(period, species, (Kind.SCRAPPED,)).filter(blank__condition=Condition.SCRAPPED)
    for wood, _ in set(gone.values_list("blank__species__name", "blank")):
        scrapped[wood] += 1
    names = sorted(good.keys() | scrapped.keys())
    return [WoodYield(name, good[name] + scrapped[name], good[name], scrapped[name]) for name in names]


def reasons(period: Period, kind: Kind, species: int | None = None) -> Reasons:
    """Group the reasons for scrapping or sending back by equal words, whatever their capitals and their full stop."""
    written: dict[str, Counter[str]] = defaultdict(Counter)
    for words in _happened(period, species, (kind,)).values_list("reason", flat=True):
        tidy = " ".join(words.split()).rstrip(".") or "No reason written"
        written[tidy.casefold()][tidy] += 1
    return _ruled(written)


def _ruled(written: dict[str, Counter[str]]) -> Reasons:
    total, so_far, rows = sum(counts.total() for counts in written.values()), 0, []
    often = sorted(written.items(), key=lambda pair: (-pair[1].total(), pair[0]))
    for _, counts in often[:MOST_REASONS]:
        so_far += counts.total()
        rows.append(Reason(counts.most_common(1)[0][0], counts.total(), so_far, counts.total() / total))
    return Reasons(total, rows, total - so_far)


def _happened(period: Period, species: int | None, kinds: Iterable[Kind]):  # noqa: ANN202 - a query of the log
    entries = LogEntry.objects.filter(
        kind__in=list(kinds), undone_by=None, at__gte=period.begins, at__lt=period.ends
    ).order_by()
    return entries.filter(blank__species=species) if species else entries
