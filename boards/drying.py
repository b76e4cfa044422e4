"""What blanks are on their way to: the day on which each is expected to be settled, and what to say until then."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta

from boards.models import Blank
from boards.models.moisture import Point, points_of
from boards.settled import Settled, Settledness, day_words, how_settled
from geometry.drying import Drying, ready_by
from geometry.request import Climate, Request
from geometry.result import Result, Warning
from shop.models import Shop

_LATER = "Machined too early, it may cup or shrink later."
LOOKS_BACK = 120  # days before the last reading: what was read earlier tells of other air


@dataclass(frozen=True, slots=True)
class Expected:
    """The day on which a blank is expected to be settled, told from its readings, or why none can be told."""

    points: list[Point]
    begins: date
    drying: Drying
    today: date

    @property
    def why(self) -> str:
        """Say why no day can be told; empty where one can."""
        return self.drying.why

    def _on(self, days: float) -> date:
        return max(self.begins + timedelta(days=round(days)), self.today)

    @property
    def on(self) -> date:
        """The day on which it is as likely as not."""
        return self._on(self.drying.expected)

    @property
    def earliest(self) -> date:
        """The day before which it is unlikely."""
        return self._on(self.drying.earliest)

    @property
    def latest(self) -> date:
        """The day by which it is likely."""
        return self._on(self.drying.latest)

    @property
    def words(self) -> str:
        """Say when, with the range."""
        if self.why:
            return f"No day can be told: {self.why[:1].lower()}{self.why[1:]}"
        if self.latest == self.today:
            return "Expected by now: read it again."
        if self.earliest == self.latest:
            return f"Expected about {day_words(self.on, self.today)}."
        return f"Expected about {day_words(self.on, self.today)}, between {self.between}."

    @property
    def between(self) -> str:
        """Say the range."""
        return f"{day_words(self.earliest, self.today)} and {day_words(self.latest, self.today)}"

    @property
    def about(self) -> str:
        """Say the day itself."""
        return "by now" if self.latest == self.today else f"about {day_words(self.on, self.today)}"


def expected(blanks: Iterable[Blank], known: dict[int, Settledness], shop: Shop) -> dict[int, Expected]:
    """Tell of those blanks that are on their way when they will be there, by their ids. One query at most."""
    moving = [blank for blank in blanks if known[blank.pk].state in (Settled.NOT, Settled.NEARLY)]
    if not moving:
        return {}
    return {pk: _expected(found, known[pk], shop) for pk, found in points_of(moving).items()}


def _expected(found: list[Point], known: Settledness, shop: Shop) -> Expected:
    told = [point for point in found if point.percent is not None]
    told = [point for point in told if point.at > told[-1].at - timedelta(days=LOOKS_BACK)]
    begins = told[0].at if told else None
    drying = ready_by(
        [(point.at - begins).total_seconds() / 86400 for point in told],
        [point.percent for point in told],
        known.emc,
        near=float(shop.settled_within),
        steady=float(shop.settled_steady),
        apart=float(shop.settled_days),
    )
    return Expected(told, told[0].on if told else known.received_on, drying, known.today)


@dataclass(frozen=True, slots=True)
class InTheAir:
    """Blanks in the shop's air: where each stands, and the day on which those that are on their way will be there."""

    shop: Shop
    known: dict[int, Settledness]
    expected: dict[int, Expected]

    @classmethod
    def of(cls, blanks: Iterable[Blank], shop: Shop, *, today: date) -> InTheAir:
        """Look at blanks: three queries at most, for any number."""
        blanks = list(blanks)
        known = how_settled(blanks, shop, today=today)
        return cls(shop, known, expected(blanks, known, shop))

    def caution(self, blank: Blank) -> str:
        """Say that a blank is machined too early, with its number; nothing where it may be, or is on its neck."""
        known = self.known[blank.pk]
        if known.ready or "gluing" in blank.done:
            return ""
        if known.state == Settled.UNKNOWN:
            # Once it is begun, days in the rack are a question of the past.
            return "" if blank.done else f"{known.words} The shop lets wood rest {self.shop.rest_days} days. {_LATER}"
        found = self.expected.get(blank.pk)
        return " ".join(filter(None, [known.words, found and found.words, _LATER]))

    def ask(self, blank: Blank, request: Request) -> Request:
        """Put what is known of the air into what is asked about a blank."""
        return replace(request, climate=self._climate(blank))

    def _climate(self, blank: Blank) -> Climate | None:
        """Give nothing where its moisture or its wood is not known."""
        known, species, air = self.known[blank.pk], blank.species, self.shop.air
        fresh = known.state in (Settled.SETTLED, Settled.NEARLY, Settled.NOT)
        if not fresh or known.moisture is None or not species.moves_known(blank.cut) or "gluing" in blank.done:
            return None
        return Climate(
            temperature_c=air.temperature_c,
            humidity=air.humidity,
            blank_mc=min(max(known.moisture, 0.0), 100.0),
            season_low=float(self.shop.season_low),
            season_high=float(self.shop.season_high),
            c_radial=species.radial or 0.0,
            c_tangential=species.tangential or 0.0,
            grain=blank.cut,
        )

    def answer(self, blank: Blank, result: Result) -> Result:
        """Put our words, which know the day, in the place of geometry's on wood that has not settled."""
        known = self.known[blank.pk]
        warnings = [warning for warning in result.warnings if warning.code != "not-settled"]
        if words := self.caution(blank):
            off = None if known.moisture is None else abs(known.moisture - known.emc)
            warnings.append(Warning("not-settled", "caution", words, off, float(self.shop.settled_within)))
        climate = result.climate and replace(result.climate, ready=known.ready)
        return replace(result, warnings=tuple(warnings), climate=climate)
