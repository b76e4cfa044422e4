"""What the wood of a board costs: its own blank, and its share of what was scrapped of the same wood."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from django.db.models import Q
from django.utils import timezone

from boards.models import Condition, Kind, LogEntry

SHARED_OVER = timedelta(days=365)
RULE = (
    "Wood that was scrapped is paid for by the boards of the same wood that came good. Each of them bears an equal "
    "share of what was scrapped in the twelve months up to the day on which it came good; one that is still in work "
    "bears what it would bear today. Every species counts by itself, and so does every composite. A board has come "
    "good when the last stage of its route is done."
)


@dataclass(frozen=True, slots=True)
class Share:
    """What was scrapped of a wood within twelve months, and the boards that bear it.

    ``unknown`` of the boards that were ``scrapped`` have no cost written down: they are in no sum.
    """

    scrapped: int
    unknown: int
    lost: Decimal
    good: int

    @property
    def each(self) -> Decimal | None:
        """What one good board bears; None where there is something to bear and no board to bear it."""
        if not self.lost:
            return Decimal(0)
        return self.lost / self.good if self.good else None


class Sharing:
    """What was scrapped of every wood, and what came good, day by day."""

    def __init__(self, first: date, last: date) -> None:
        begins, ends = _midnight(first - SHARED_OVER), _midnight(last + timedelta(days=1))
        self._lost: dict[int, list[tuple[date, Decimal | None]]] = defaultdict(list)
        scrapped = LogEntry.objects.filter(
            kind=Kind.SCRAPPED, undone_by=None, at__gte=begins, at__lt=ends, blank__condition=Condition.SCRAPPED
        )
        for species, at, cost in scrapped.order_by("at").values_list("blank__species", "at", "blank__cost"):
            self._lost[species].append((timezone.localdate(at), cost))
        self._good: dict[int, list[date]] = defaultdict(list)
        self.came_good: dict[int, date] = {}
        species_of = {}
        found = LogEntry.objects.filter(came_good(), at__gte=begins, at__lt=ends).order_by("at")
        for blank, species, at in found.values_list("blank", "blank__species", "at"):
            self.came_good[blank] = timezone.localdate(at)  # one that was sent back came good the last time
            species_of[blank] = species
        for blank, day in sorted(self.came_good.items(), key=lambda pair: pair[1]):
            self._good[species_of[blank]].append(day)

    def share(self, species: int, day: date) -> Share:
        """Say what a board of a wood that came good on a day has to bear."""
        before = day - SHARED_OVER
        lost = self._lost.get(species, [])
        here = lost[_after(lost, before) : _after(lost, day)]
        good = self._good.get(species, [])
        known = [cost for _, cost in here if cost is not None]
        boards = bisect_right(good, day) - bisect_right(good, before)
        return Share(len(here), len(here) - len(known), sum(known, Decimal(0)), boards)

    @property
    def species(self) -> set[int]:
        """The woods of which anything was scrapped or came good."""
        return self._lost.keys() | self._good.keys()


def came_good() -> Q:
    """Ask for the entries by which boards came good that still are: the last stage of the route, and not taken back."""
    still = Q(blank__next_stage="", blank__in_rack=False) & ~Q(blank__condition=Condition.SCRAPPED)
    return Q(kind=Kind.FINISHED, to_stage="", undone_by=None) & still


def _after(lost: list[tuple[date, Decimal | None]], day: date) -> int:
    return bisect_left(lost, day + timedelta(days=1), key=lambda pair: pair[0])


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time()))
