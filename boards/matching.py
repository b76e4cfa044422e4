"""Which blank for which build: the best over all builds and the whole rack at once, with its reasons.

What counts, in this order:

1. As many builds as there can be get a blank and, where wood is short, the earlier due ones.
2. The least is spent. A blank is worth what it cost. One that nobody wrote a cost for is worth what a cm³ of its
   species cost elsewhere in the rack, else of any; where no cost is known at all, its volume counts. Worths that lie
   within a twentieth of the mean blank's count as alike: a few pence should not outweigh wood that is settled.
3. Settled wood goes before wood that is not.
4. What is to spare is spread evenly, so that the widest blank does not go to the narrowest board.

Wood that is not settled is only proposed where the due day leaves time for it to settle and to be worked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

import numpy as np
from django.utils.formats import date_format

from boards.drying import expected
from boards.fits import Fit, Held, Need, lacking, needs, size_words, waiting_builds
from boards.models import Blank
from boards.settled import Settled, Settledness, how_settled
from geometry.assignment import assign, one_after_another, price_of_leaving_out
from geometry.result import Size
from geometry.words import at_least, say
from shop.models import Build, Shop

TO_THE_MEAN = 20  # steps of worth to the mean blank's
DEAREST = 1000  # steps: a blank fifty times as dear as the mean is dear enough
_GOES_BEFORE = (Settled.SETTLED, Settled.NO_NEED, Settled.UNKNOWN, Settled.NEARLY, Settled.NOT)
NAMED = 3  # blanks named in one sentence


@dataclass(frozen=True, slots=True)
class Proposal:
    """A blank for a build, with margins in mm and reasons in words; a caution where it is not settled yet."""

    build: Build
    blank: Blank
    fit: Fit
    settled: Settledness
    reasons: tuple[str, ...]
    caution: str

    @property
    def as_seen(self) -> str:
        """Say which pair this is, and in which state the person saw both."""
        return f"{self.blank.number}:{self.blank.version}:{self.build.number}:{self.build.version}"


@dataclass(frozen=True, slots=True)
class Without:
    """A build that gets no blank: why, and which size of blank would do at least."""

    build: Build
    size: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Matching:
    """All that is proposed, and what is left over."""

    proposals: list[Proposal]
    without: list[Without]
    puzzling: list[Build]
    free: int


def match(shop: Shop, *, today: date) -> Matching:
    """Match the builds that wait for a blank with the blanks that are free."""
    builds = waiting_builds()
    # A build waits once for each blank that it lacks.
    needed = [need for need in needs(builds, shop) for _ in range(lacking(need.spec))]
    blanks = list(
        Blank.objects.free().select_related("species").prefetch_related("log").order_by("received_on", "number")
    )
    work = _Work(blanks, needed, how_settled(blanks, shop, today=today), shop, today)
    worked_out = {need.spec.pk for need in needed}
    return Matching(
        [work.proposal(row) for row, column in enumerate(work.columns) if column >= 0],
        [work.without(row) for row, column in enumerate(work.columns) if column < 0],
        [build for build in builds if build.pk not in worked_out],
        len(blanks),
    )


def worths(blanks: Sequence[Blank]) -> np.ndarray:
    """Say what each blank is worth: in the shop's money, or its volume in cm³ where no cost is known at all."""
    volumes = np.array([_cubic(blank.size) for blank in blanks], float)
    costs = np.array([np.nan if blank.cost is None else float(blank.cost) for blank in blanks], float)
    known = ~np.isnan(costs)
    if not known.any():
        return volumes
    species = np.array([blank.species_id for blank in blanks])
    anywhere = costs[known].sum() / volumes[known].sum()
    for column in np.flatnonzero(~known):
        alike = known & (species == species[column])
        a_cubic = costs[alike].sum() / volumes[alike].sum() if alike.any() else anywhere
        costs[column] = a_cubic * volumes[column]
    return costs


def _cubic(size: Size) -> float:
    return size.length * size.width * size.thickness / 1000


class _Work:
    """One matching on its way from figures to words."""

    def __init__(
        self, blanks: list[Blank], needed: list[Need], settled: dict[int, Settledness], shop: Shop, today: date
    ) -> None:
        self.blanks, self.needed, self.shop, self.today = blanks, needed, shop, today
        self.settled = [settled[blank.pk] for blank in blanks]
        self.held = Held(blanks, needed)
        self.expected = expected(blanks, settled, shop)
        self.earliest = [self._earliest(column) for column in range(len(blanks))]
        self.possible = self.held.fits & self._in_time()
        self.cost = self._cost()
        days = [need.spec.due_on or date.max for need in needed]
        rank = {day: place for place, day in enumerate(sorted(set(days)))}
        classes = np.array([rank[day] for day in days], np.int64)
        left_out = price_of_leaving_out(classes, self.cost, self.possible)
        self.columns = assign(self.cost, self.possible, left_out).columns.tolist()

    def _earliest(self, column: int) -> date:
        """Tell the day by which a blank will likely have settled; where no readings tell, the first possible one."""
        blank, settled = self.blanks[column], self.settled[column]
        if settled.ready:
            return self.today
        if (told := self.expected.get(blank.pk)) and not told.why:
            return told.latest
        rested = blank.received_on + timedelta(days=self.shop.rest_days)
        if settled.state == Settled.UNKNOWN:
            return max(rested, self.today)
        # Two readings have to agree that lie so many days apart.
        return max(rested, self.today + timedelta(days=self.shop.settled_days))

    def _in_time(self) -> np.ndarray:
        """Tell which blanks will be settled when each build has to be begun; those that are, always."""
        ready = np.array([settled.ready for settled in self.settled], bool)
        earliest = np.array([day.toordinal() for day in self.earliest], np.int64)
        begun = [
            (need.spec.due_on or date.max).toordinal() - (self.shop.horizon_days if need.spec.due_on else 0)
            for need in self.needed
        ]
        return ready | (earliest <= np.array(begun, np.int64)[:, None])

    def _cost(self) -> np.ndarray:
        """Put what counts into one number for each pair."""
        worth = worths(self.blanks)
        mean = worth.mean() if worth.size else 0.0
        steps = np.rint(TO_THE_MEAN * worth / mean).clip(0, DEAREST) if mean else np.zeros(len(worth))
        goes_before = [_GOES_BEFORE.index(settled.state) for settled in self.settled]
        has = np.array([_cubic(blank.size) for blank in self.blanks], float)
        wants = np.array([_cubic(need.size) for need in self.needed], float)
        spare = (has - wants[:, None]).clip(0)
        # Squared, so that two middling remnants count for less than a small one and a large one.
        uneven = np.rint(100 * (spare / max(spare.max(initial=0), 1)) ** 2)
        shape = uneven.shape
        levels = [np.broadcast_to(steps, shape), np.broadcast_to(np.array(goes_before, np.int64), shape), uneven]
        return one_after_another(levels, max(len(self.needed), 1))

    # In words

    def proposal(self, row: int) -> Proposal:
        """Say why this blank goes to that build."""
        need, column = self.needed[row], self.columns[row]
        fit, settled = self.held.fit(row, column), self.settled[column]
        reasons = [self._tightest(fit), *self._beside(row, column)]
        caution = ""
        if not settled.ready:
            told = self.expected.get(self.blanks[column].pk)
            if told and not told.why:
                caution = f"Not settled yet. {told.words}"
            else:
                caution = f"It will not have settled before {date_format(self.earliest[column])}."
            if need.spec.due_on:
                caution += f" The build is due on {date_format(need.spec.due_on)}."
        return Proposal(need.spec, self.blanks[column], fit, settled, tuple(filter(None, reasons)), caution)

    def _tightest(self, fit: Fit) -> str:
        """Name the measure in which least is to spare: thickness counts in finer steps than length and width."""
        if fit.made.machined:
            return "It is worked on already; what was cut suits this build."
        along, across = float(self.shop.buying_step), float(self.shop.buying_step_thickness)
        steps = {"length": along, "width": along, "thickness": across}
        name = min(steps, key=lambda name: getattr(fit.margin, name) / steps[name])
        return f"Tightest in {name}: {self._over(fit.margin, name)} to spare."

    def _over(self, margin: Size, name: str) -> str:
        return say(max(getattr(margin, name), 0.0), self.shop.style)

    @cached_property
    def _goes_to(self) -> dict[int, int]:
        return {column: row for row, column in enumerate(self.columns) if column >= 0}

    def _beside(self, row: int, column: int) -> list[str]:
        """Name the blank that would spend less but goes elsewhere, and the next best that is left."""
        others = np.flatnonzero(self.possible[row])
        others = others[np.argsort(self.cost[row, others], kind="stable")].tolist()
        said = []
        better = [other for other in others if self.cost[row, other] < self.cost[row, column]]
        if better:
            to = self.needed[self._goes_to[better[0]]].spec.number
            said.append(f"{self.blanks[better[0]].number} would suit it even better; {to} needs that one more.")
        left = [other for other in others if other not in self._goes_to]
        if not left:
            return [*said, "No other free blank would do."]
        margin, mine = self.held.fit(row, left[0]).margin, self.held.fit(row, column).margin
        names = ("length", "width", "thickness")
        name = max(names, key=lambda name: getattr(margin, name) - getattr(mine, name))
        how = "just like it" if margin == mine else f"{self._over(margin, name)} over in {name}"
        if not self.settled[left[0]].ready:
            how += ", not settled"
        return [*said, f"The next best is {self.blanks[left[0]].number}, {how}."]

    def without(self, row: int) -> Without:
        """Say why a build gets nothing: what would do goes elsewhere, or comes too late, or is not there."""
        need = self.needed[row]
        suit = np.flatnonzero(self.possible[row]).tolist()
        late = np.flatnonzero(self.held.fits[row] & ~self.possible[row]).tolist()
        why = []
        if suit:
            numbers = self._numbers(suit)
            to = list(dict.fromkeys(self.needed[self._goes_to[column]].spec.number for column in suit))
            why.append(f"What would do goes to builds that come before it: {numbers} to {_listed(to)}.")
        if late:
            when = date_format(min(self.earliest[column] for column in late))
            why.append(f"{self._numbers(late)} would do but will hardly have settled before {when}, which is too late.")
        if not suit and not late:
            why += self._nearest(row)
        return Without(need.spec, size_words(need.size, self.shop), tuple(why))

    def _nearest(self, row: int) -> list[str]:
        """Name the blank of its wood that misses by least, or one of another wood that has the size."""
        need = self.needed[row]
        right = np.flatnonzero(self.held.right_wood[row]).tolist()
        wood = need.spec.species
        if not right:
            has_size = np.flatnonzero(self.held.has_size[row]).tolist()
            said = f"No blank of {wood} is free." if wood else "No blank is free."
            if not has_size:
                return [said]
            other = self.blanks[has_size[0]]
            return [said, f"{other.number} in {other.species} has the size."]
        fits = [self.held.fit(row, column) for column in right]
        place = min(range(len(right)), key=lambda place: _misses_by(fits[place]))
        fit, number = fits[place], self.blanks[right[place]].number
        short = [f"{at_least(by, self.shop.style)} short in {name}" for name, by in fit.lacks]
        nearest = f"Nearest is {number}: {', '.join(short) or fit.at_odds.rstrip('.')}."
        return [f"No free blank{f' of {wood}' if wood else ''} is large enough." if short else "None suits.", nearest]

    def _numbers(self, columns: list[int]) -> str:
        return _listed([self.blanks[column].number for column in columns])


def _listed(numbers: list[str]) -> str:
    """List a few, and say how many more there are."""
    named = numbers[:NAMED]
    if more := len(numbers) - len(named):
        named.append(f"{more} more")
    return " and ".join(filter(None, [", ".join(named[:-1]), named[-1]]))


def _misses_by(fit: Fit) -> tuple[bool, float]:
    """Rank a miss: too small by this share of what is needed; what was cut wrong already comes last."""
    return bool(fit.at_odds), max((by / getattr(fit.needed, name) for name, by in fit.lacks), default=0.0)
