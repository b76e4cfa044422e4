"""Whether blanks have come to the shop's moisture: one rule, for one blank, for a page of them and for a whole rack."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import models
from django.db.models import Case, F, FloatField, Q, QuerySet, Value, When
from django.db.models.functions import Cast
from django.utils.formats import date_format

from boards.models import Blank
from shop.models import Shop


def day_words(day: date, today: date) -> str:
    """Write a day, with its year only where it is another one."""
    return date_format(day, "j M" if day.year == today.year else "j M Y")


class Settled(models.TextChoices):
    """Where a blank stands on its way to the shop's moisture."""

    SETTLED = "settled", "settled"
    NEARLY = "nearly", "nearly settled"
    NOT = "not", "not settled"
    UNKNOWN = "unknown", "not known"
    NO_NEED = "no need", "needs no rest"


@dataclass(frozen=True, slots=True)
class Settledness:
    """What is known of one blank's moisture, held against the shop's air.

    ``moisture`` is percent, None where only its weight was read, or nothing. ``drift`` is how far, in percent of
    moisture, its last reading lies from the one some days before. ``rested`` is by the days that the shop lets wood
    rest; it counts where nothing of late is known.
    """

    state: Settled
    moisture: float | None
    read_on: date | None
    drift: float | None
    emc: float
    air_is_read: bool
    received_on: date
    today: date
    rested: bool

    @property
    def ready(self) -> bool:
        """Tell whether it may be machined without a word of caution."""
        if self.state == Settled.UNKNOWN:
            return self.rested
        return self.state in (Settled.SETTLED, Settled.NO_NEED)

    @property
    def days(self) -> int:
        """How many days it has been in the shop."""
        return (self.today - self.received_on).days

    @property
    def reads(self) -> str:
        """Say what was read of it last, and when."""
        if self.read_on is None:
            return "never read"
        on = day_words(self.read_on, self.today)
        return f"weighed on {on}" if self.moisture is None else f"{self.moisture:.1f} % on {on}"

    @property
    def air(self) -> str:
        """Say what its surroundings lead to."""
        return f"the shop's {'air' if self.air_is_read else 'band'} makes {self.emc:.1f} %"

    @property
    def words(self) -> str:
        """Say in one line where it stands."""
        match self.state:
            case Settled.NO_NEED:
                return "Needs no rest."
            case Settled.SETTLED if self.moisture is None:
                return f"Settled by its weight, {self.reads}."
            case Settled.SETTLED:
                return f"Settled: {self.reads}; {self.air}."
            case Settled.NEARLY if self.drift is None:
                return f"Nearly settled: {self.reads}; {self.air}. One more reading tells, some days later."
            case Settled.NEARLY:
                return f"Nearly settled: {self.reads}; {self.air}; it still moves, by {self.drift:.1f} % of late."
            case Settled.NOT if self.moisture is None:
                return f"Not settled: its weight still changes, {self.reads}."
            case Settled.NOT:
                return f"Not settled: {self.reads}; {self.air}."
        return f"Not known: {self.reads}; {self._rest}."

    @property
    def _rest(self) -> str:
        """Say how long it has lain, where that is all there is to go by."""
        if not self.rested:
            return f"in the shop for {self.days} day{'' if self.days == 1 else 's'}"
        days = (self.today - (self.read_on or self.received_on)).days
        return f"rested {days} days" if self.read_on is None else f"rested {days} days since"

    @property
    def short(self) -> str:
        """Say it beside a column that has the reading."""
        off = None if self.moisture is None else self.moisture - self.emc
        match self.state:
            case Settled.NO_NEED:
                return "Needs no rest"
            case Settled.SETTLED:
                return "Settled"
            case Settled.NEARLY if self.drift is None:
                return "Nearly: one more reading tells"
            case Settled.NEARLY:
                return f"Nearly: still moves, by {self.drift:.1f} %"
            case Settled.NOT if off is None:
                return "Its weight still changes"
            case Settled.NOT:
                side = "above" if off > 0 else "below"
                return f"{abs(off):.1f} % {side} what the {'air' if self.air_is_read else 'band'} makes"
        return f"Not known; {self._rest}"

    @property
    def in_passing(self) -> str:
        """Say it where nothing else tells that moisture is spoken of, and room is short."""
        short = self.short[:1].lower() + self.short[1:]
        return f"Moisture: {f'not settled, {short}' if self.state == Settled.NOT else short}."

    @property
    def sentence(self) -> str:
        """Say the same where nothing else tells that moisture is spoken of."""
        return self.words if self.state == Settled.NO_NEED else f"Moisture {self.words[:1].lower()}{self.words[1:]}"


def how_settled(blanks: Iterable[Blank], shop: Shop, *, today: date) -> dict[int, Settledness]:
    """Tell of each blank, by its id, whether it has settled. Two queries for any number of blanks.

    The second is for the shop's air, and is made once for a `Shop`.
    """
    pks = [blank.pk for blank in blanks]
    if not pks:
        return {}
    rows = with_state(Blank.objects.filter(pk__in=pks).order_by(), shop, today=today)
    found = rows.values_list("pk", "settled", "settled_at", "read_on", "holds__drift", "received_on")
    return {
        pk: Settledness(
            Settled(state),
            moisture,
            read_on,
            None if drift is None else float(drift),
            shop.air.emc,
            shop.air.is_read,
            received_on,
            today,
            received_on <= today - timedelta(days=shop.rest_days),
        )
        for pk, state, moisture, read_on, drift, received_on in found
    }


def with_state(blanks: QuerySet[Blank], shop: Shop, *, today: date) -> QuerySet[Blank]:
    """Put beside each blank, in the query, where it stands: `settled`, its moisture `settled_at`, and `read_on`.

    What was read longer ago than wood rests tells nothing of now, unless it was settled already. What it came in with
    is its first reading.
    """
    emc, within = shop.air.emc, float(shop.settled_within)
    was_read = Q(holds__isnull=False)
    near = Q(settled_at__gte=emc - within, settled_at__lte=emc + within)
    is_steady = Q(holds__drift__lte=shop.settled_steady)
    stale = Q(read_on=None) | Q(read_on__lt=today - timedelta(days=shop.rest_days))
    by_weight = Q(settled_at=None)
    return blanks.annotate(
        settled_at=Cast(Case(When(was_read, then=F("holds__percent")), default=F("moisture")), FloatField()),
        read_on=Case(
            When(was_read, then=F("holds__read_on")),
            When(moisture__isnull=False, then=F("received_on")),
            output_field=models.DateField(),
        ),
    ).annotate(
        settled=Case(
            When(species__composite=True, then=Value(Settled.NO_NEED)),
            When(is_steady & (near | by_weight), then=Value(Settled.SETTLED)),
            When(stale, then=Value(Settled.UNKNOWN)),
            When(by_weight & Q(holds__drift=None), then=Value(Settled.UNKNOWN)),
            When(near, then=Value(Settled.NEARLY)),
            default=Value(Settled.NOT),
            output_field=models.CharField(),
        )
    )


def in_state(blanks: QuerySet[Blank], *states: Settled, shop: Shop, today: date) -> QuerySet[Blank]:
    """Leave only the blanks that stand so."""
    return with_state(blanks, shop, today=today).filter(settled__in=states)
