"""What to buy: the boards that are needed, held against what lies free in the rack, by wood and size.

Needed are the open builds that have no blank, and what the patterns use in the months ahead. A build that was written
down from a pattern counts towards that pattern's use, and so does a board that is put to the pattern already: what is
on its way is not bought twice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, Decimal

import numpy as np
from django.db.models import Count, Sum

from boards.fits import Held, Need, lacking, needs, size_words, waiting_builds
from boards.models import Blank, Kind, LogEntry
from geometry.assignment import share_out
from geometry.result import Size
from geometry.units import rounded
from shop.models import Build, Pattern, Shop, Species

ENOUGH = 30  # boards after which the log is believed
LOOK_BACK = 200  # boards
SERVES = 1.1  # one size for several needs: up to a tenth more wood than a size of its own would have


@dataclass(frozen=True, slots=True)
class Spoiled:
    """How many boards in a hundred are spoiled, and the boards that say so; none where the shop's habits do."""

    share: float
    boards: int = 0
    scrapped: int = 0


@dataclass(slots=True)
class Use:
    """Boards that are alike in all that matters to a blank, and who asks for them."""

    need: Need
    builds: list[Build] = field(default_factory=list)
    patterns: list[tuple[Pattern, int]] = field(default_factory=list)

    @property
    def boards(self) -> int:
        """How many they are."""
        return sum(map(lacking, self.builds)) + sum(boards for _, boards in self.patterns)


@dataclass(slots=True)
class Line:
    """One size of blank to ask for, mm, and the boards that it serves."""

    species: Species | None
    asked: Size
    uses: list[Use]
    shop: Shop
    spoiled: int = 0
    in_rack: int = 0

    @property
    def needed(self) -> int:
        """How many boards it is needed for."""
        return sum(use.boards for use in self.uses)

    @property
    def buy(self) -> int:
        """How many to buy: the boards, and what is spoiled on the way, less what lies there."""
        return self.needed + self.spoiled - self.in_rack

    @property
    def builds(self) -> list[Build]:
        """The builds that it serves."""
        return [build for use in self.uses for build in use.builds]

    @property
    def patterns(self) -> list[tuple[Pattern, int]]:
        """The patterns that it serves, each with how many boards."""
        return [pair for use in self.uses for pair in use.patterns]

    @property
    def size(self) -> str:
        """Say what to ask for."""
        return size_words(self.asked, self.shop)

    @property
    def volume(self) -> float:
        """How much wood one is, in mm³."""
        return self.asked.length * self.asked.width * self.asked.thickness

    def covers(self, other: Line) -> bool:
        """Tell whether this size serves another line as well, without much more wood."""
        over = self.asked.margin_of(other.asked)
        larger = max(over.length, over.width, over.thickness) <= 0
        return larger and self.volume <= SERVES * other.volume


@dataclass(frozen=True, slots=True)
class Shelf:
    """All lines of one wood; None is any."""

    species: Species | None
    lines: list[Line]

    def total(self, name: str) -> int:
        """Add up a column."""
        return sum(getattr(line, name) for line in self.lines)

    @property
    def needed(self) -> int:
        """How many boards of this wood are needed."""
        return self.total("needed")

    @property
    def in_rack(self) -> int:
        """How many of them the rack has the wood for."""
        return self.total("in_rack")

    @property
    def buy(self) -> int:
        """How many blanks to buy."""
        return self.total("buy")


@dataclass(frozen=True, slots=True)
class BuyingList:
    """What to buy for so many months."""

    months: int
    shelves: list[Shelf]
    spoiled: Spoiled
    free: int

    @property
    def buy(self) -> int:
        """How many blanks to buy in all."""
        return sum(shelf.buy for shelf in self.shelves)

    @property
    def lines(self) -> list[Line]:
        """All lines, one after another."""
        return [line for shelf in self.shelves for line in shelf.lines]


def buying_list(shop: Shop, *, months: int) -> BuyingList:
    """Work out what to buy so that the boards of so many months find their blanks."""
    spoiled = spoiled_share(shop)
    lines = _lines(_uses(shop, months), shop)
    for line in lines:
        # Expected, so rounded: a single board is not bought twice for the one in twenty that goes wrong.
        line.spoiled = math.floor(line.needed * spoiled.share / (1 - spoiled.share) + 0.5)
    blanks = list(Blank.objects.free().prefetch_related("log").order_by())
    _take_from_rack(lines, blanks)
    woods = {line.species for line in lines}
    shelves = [
        Shelf(wood, [line for line in lines if line.species == wood])
        for wood in sorted(woods, key=lambda wood: (wood is None, str(wood)))
    ]
    return BuyingList(months, shelves, spoiled, len(blanks))


def spoiled_share(shop: Shop) -> Spoiled:
    """Take from the log how many of the last boards came to nothing; the shop's habit before there are enough."""
    standing = LogEntry.objects.filter(undone_by=None).order_by("-at", "-pk")
    scrapped = standing.filter(kind=Kind.SCRAPPED).values_list("at", "pk", "blank_id")[:LOOK_BACK]
    finished = standing.filter(kind=Kind.FINISHED, to_stage="").values_list("at", "pk", "blank_id")[:LOOK_BACK]
    lost = {blank for *_, blank in scrapped}
    ended: dict[int, bool] = {}
    for *_, blank in sorted([*scrapped, *finished], reverse=True):
        if len(ended) < LOOK_BACK:
            ended.setdefault(blank, blank in lost)
    if len(ended) < ENOUGH:
        return Spoiled(shop.spoiled_in_hundred / 100)
    # However bad it was: to buy nine for one is the most that makes sense.
    return Spoiled(min(sum(ended.values()) / len(ended), 0.9), len(ended), sum(ended.values()))


def _uses(shop: Shop, months: int) -> list[Use]:
    """List what is needed: the builds by their due days, then the patterns."""
    patterns = _yearly(months)
    asked = needs([*waiting_builds(most=None), *patterns], shop)
    alike: dict[tuple, Use] = {}
    for need in asked:
        key = (need.spec.species_id, need.wanted.request, *need.wanted.stages)
        use = alike.setdefault(key, Use(need))
        if isinstance(need.spec, Build):
            use.builds.append(need.spec)
        else:
            use.patterns.append((need.spec, patterns[need.spec]))
    return list(alike.values())


def _yearly(months: int) -> dict[Pattern, int]:
    """Tell how many boards of each pattern will be used beyond those that are on their way."""
    # Two counts over two relations would multiply one another: each by a query of its own.
    ordered = Build.objects.going().filter(pattern__isnull=False)
    begun = Blank.objects.not_scrapped().on_the_way().filter(pattern__isnull=False)
    on_order, in_work = (
        dict(rows.order_by().values_list("pattern").annotate(boards))
        for rows, boards in ((ordered, Sum("boards_wanted")), (begun, Count("pk")))
    )
    found = {}
    for pattern in Pattern.objects.filter(boards_a_year__gt=0).select_related("wire", "route", "species"):
        boards = math.ceil(pattern.boards_a_year * months / 12)
        boards -= on_order.get(pattern.pk, 0) + in_work.get(pattern.pk, 0)
        if boards > 0:
            found[pattern] = boards
    return found


def _up(mm: float, step: Decimal) -> float:
    """Round a length up to the next step; a hair over one is on it."""
    return float((rounded(mm, 3) / step).to_integral_value(ROUND_CEILING) * step)


def asked_size(size: Size, shop: Shop) -> Size:
    """Say what to ask for where a blank must measure so much."""
    return Size(
        _up(size.length, shop.buying_step),
        _up(size.width, shop.buying_step),
        _up(size.thickness, shop.buying_step_thickness),
    )


def _lines(uses: Iterable[Use], shop: Shop) -> list[Line]:
    """Put together what one size serves: the same, or one that is a little larger."""
    lines: dict[tuple, Line] = {}
    for use in uses:
        species, size = use.need.spec.species, asked_size(use.need.size, shop)
        lines.setdefault((species, size), Line(species, size, [], shop)).uses.append(use)
    kept: list[Line] = []
    for line in sorted(lines.values(), key=lambda line: -line.volume):
        larger = next((other for other in kept if other.species == line.species and other.covers(line)), None)
        if larger:
            larger.uses += line.uses
        else:
            kept.append(line)
    return kept


def _take_from_rack(lines: Sequence[Line], blanks: Sequence[Blank]) -> None:
    """Share the rack out: to the builds first, then to the patterns, then for what will be spoiled."""
    uses = [(line, use) for line in lines for use in line.uses]
    uses.sort(key=lambda pair: not pair[1].builds)
    fits = Held(blanks, [use.need for _, use in uses]).fits
    of_line = [[row for row, (owner, _) in enumerate(uses) if owner is line] for line in lines]
    # A spare one has to do for whatever of its line goes wrong.
    spare = np.array([fits[rows].all(axis=0) for rows in of_line], bool).reshape(len(lines), len(blanks))
    serves, there = np.unique(np.vstack([fits, spare]), axis=1, return_counts=True)
    demand = [*(use.boards for _, use in uses), *(line.spoiled for line in lines)]
    given = share_out(demand, there.tolist(), serves).sum(axis=1)
    for place, (line, rows) in enumerate(zip(lines, of_line, strict=True)):
        line.in_rack = int(given[rows].sum() + given[len(uses) + place])
