"""What was read of a blank's moisture, by meter or by weight, and what it comes to. The readings only grow."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from itertools import groupby
from typing import Any

from django.conf import settings
from django.db import IntegrityError, models, transaction
from django.db.models import Count, Q
from django.utils import timezone

from boards.models.blank import Blank
from boards.models.log import LogEntry
from boards.models.state import Kind
from shop.models import Hand, Refused, Shop

OF_THE_WEIGHT = 110  # a percent of moisture is about the hundred-and-tenth part of the weight, in wood near 10 %


class Way(models.TextChoices):
    """How moisture is read."""

    METER = "meter", "by meter"
    WEIGHT = "weight", "by weight"
    DRY = "dry", "its oven-dry weight"
    BACK = "back", "taken back"


class MoistureReading(models.Model):
    """One reading of one blank, or the taking back of one.

    A weight tells moisture where there is a weight to hold it against: one with a meter's reading beside it, or the
    oven-dry one. Both must be of the blank as it is cut now.
    """

    blank = models.ForeignKey(Blank, on_delete=models.PROTECT, related_name="moistures")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    way = models.CharField(max_length=6, choices=Way)
    percent = models.DecimalField("moisture, %", max_digits=4, decimal_places=1, null=True)
    grams = models.DecimalField("weight, g", max_digits=8, decimal_places=2, null=True)
    cuts = models.PositiveSmallIntegerField("stages finished on it by then, taken back ones too", default=0)
    remark = models.CharField(max_length=120, blank=True)
    device = models.CharField(max_length=200, blank=True)
    request_id = models.UUIDField(null=True, blank=True)
    takes_back = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="taken_back_by")

    class Meta:
        ordering = ["blank", "at", "pk"]
        indexes = [models.Index(fields=["blank", "at"], name="moisture_by_blank_and_time")]
        constraints = [
            models.CheckConstraint(
                condition=Q(way="meter", percent__isnull=False)
                | Q(way__in=("weight", "dry"), percent=None, grams__isnull=False)
                | Q(way="back", percent=None, grams=None, takes_back__isnull=False),
                name="moisture_reading_is_whole",
            ),
            models.CheckConstraint(
                condition=Q(percent=None) | Q(percent__gte=0, percent__lte=200), name="reading_is_possible"
            ),
            models.CheckConstraint(condition=Q(grams=None) | Q(grams__gt=0), name="weight_is_possible"),
        ]

    def __str__(self) -> str:
        return f"{self.blank_id} {self.get_way_display()} {self.at:%Y-%m-%d %H:%M}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write a new reading; refuse to rewrite an old one."""
        if self.pk is not None:
            raise TypeError("A reading is never changed; take it back.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> None:
        """Refuse: what was read stays."""
        raise TypeError("A reading is never deleted; take it back.")


class Moisture(models.Model):
    """Where a blank stands by its last readings: what they say, repeated for lists. `sum_up` alone writes it."""

    blank = models.OneToOneField(Blank, on_delete=models.CASCADE, primary_key=True, related_name="holds")
    percent = models.DecimalField(max_digits=5, decimal_places=2, null=True)
    read_on = models.DateField(db_index=True)
    drift = models.DecimalField(
        "from the reading some days before", max_digits=6, decimal_places=2, null=True, help_text="% moisture."
    )
    over_days = models.PositiveSmallIntegerField()

    class Meta:
        indexes = [models.Index(fields=["percent", "drift"], name="moisture_by_standing")]

    def __str__(self) -> str:
        return f"{self.blank_id}: {self.percent} % on {self.read_on}"


@dataclass(frozen=True, slots=True)
class Point:
    """One reading as it counts: the moisture where it can be told, else only the weight."""

    at: datetime
    percent: float | None
    grams: float | None = None
    cuts: int = 0
    entry: MoistureReading | None = None

    @property
    def on(self) -> date:
        """The day of the shop."""
        return timezone.localdate(self.at)


def points(blank: Blank, entries: Iterable[MoistureReading]) -> list[Point]:
    """Give what was read of a blank in its order; what it came in with is the first."""
    entries = list(entries)
    back = {entry.takes_back_id for entry in entries if entry.way == Way.BACK}
    standing = [entry for entry in entries if entry.way != Way.BACK and entry.pk not in back]
    dry = {}  # by how it is cut; the latest stands
    for entry in standing:
        if entry.way == Way.DRY:
            dry[entry.cuts] = float(entry.grams)
        elif entry.way == Way.METER and entry.grams:
            dry[entry.cuts] = float(entry.grams) / (1 + float(entry.percent) / 100)
    found = []
    if blank.moisture is not None:
        came_in = timezone.make_aware(datetime.combine(blank.received_on, time.min))
        found.append(Point(came_in, float(blank.moisture)))
    for entry in standing:
        if entry.way == Way.DRY:
            continue
        percent, grams = entry.percent, float(entry.grams) if entry.grams else None
        if percent is None and entry.cuts in dry:
            percent = 100 * (grams / dry[entry.cuts] - 1)
        found.append(Point(entry.at, None if percent is None else float(percent), grams, entry.cuts, entry))
    return sorted(found, key=lambda point: point.at)


def points_of(blanks: Iterable[Blank]) -> dict[int, list[Point]]:
    """Give what was read of many blanks, by their ids, with one query."""
    blanks = list(blanks)
    entries = MoistureReading.objects.filter(blank__in=[blank.pk for blank in blanks]).order_by("blank_id", "at", "pk")
    of_blank = {pk: list(group) for pk, group in groupby(entries.select_related("by"), key=lambda e: e.blank_id)}
    return {blank.pk: points(blank, of_blank.get(blank.pk, ())) for blank in blanks}


def drift_of(found: list[Point], days: int) -> float | None:
    """Tell how far the last reading lies from the newest that is so many days older, in percent of moisture."""
    if not found:
        return None
    last = found[-1]
    for earlier in reversed(found[:-1]):
        if (last.on - earlier.on).days < days:
            continue
        if last.percent is not None and earlier.percent is not None:
            return abs(last.percent - earlier.percent)
        if last.grams and earlier.grams and last.cuts == earlier.cuts:
            return abs(last.grams / earlier.grams - 1) * OF_THE_WEIGHT
    return None


def sum_up(blanks: Iterable[Blank], shop: Shop) -> None:
    """Write down where blanks stand by their readings."""
    rows = []
    for pk, found in points_of(blanks).items():
        if not any(point.entry for point in found):
            Moisture.objects.filter(blank=pk).delete()  # all was taken back
            continue
        last, drift = found[-1], drift_of(found, shop.settled_days)
        rows.append(
            Moisture(
                blank_id=pk,
                percent=None if last.percent is None else Decimal(f"{min(max(last.percent, -99), 999):.2f}"),
                read_on=last.on,
                drift=None if drift is None else Decimal(f"{min(drift, 999):.2f}"),
                over_days=shop.settled_days,
            )
        )
    columns = ["percent", "read_on", "drift", "over_days"]
    Moisture.objects.bulk_create(rows, update_conflicts=True, unique_fields=["blank"], update_fields=columns)


def note_readings(
    hand: Hand, shop: Shop, readings: Iterable[tuple[Blank, dict[str, Any]]], *, at: datetime | None = None
) -> None:
    """Write down what was read of some blanks: for each its `way`, `percent`, `grams`, `remark`."""
    readings = list(readings)
    pks = {blank.pk for blank, _ in readings}
    with transaction.atomic():
        blanks = list(Blank.objects.select_for_update().filter(pk__in=pks))
        finished = LogEntry.objects.filter(blank__in=pks, kind=Kind.FINISHED).order_by()
        cuts = dict(finished.values_list("blank_id").annotate(Count("pk")))
        for blank, read in readings:
            MoistureReading(
                blank=blank,
                at=at or hand.at,
                by=hand.by,
                cuts=cuts.get(blank.pk, 0),
                device=hand.device[:200],
                request_id=hand.request_id,
                **read,
            ).save()
        sum_up(blanks, shop)


def take_back(hand: Hand, shop: Shop, entry: MoistureReading) -> None:
    """Let a reading count no more. It stays in the list, with who took it back."""
    if entry.way == Way.BACK:
        raise Refused("That is the taking back of a reading. Write the reading down again instead.")
    try:
        with transaction.atomic():
            MoistureReading(
                blank=entry.blank,
                at=hand.at,
                by=hand.by,
                way=Way.BACK,
                takes_back=entry,
                device=hand.device[:200],
                request_id=hand.request_id,
            ).save()
            sum_up([entry.blank], shop)
    except IntegrityError:
        raise Refused("Somebody has taken that reading back already.") from None


def sum_up_anew(shop: Shop) -> None:
    """Sum up again what was summed up over another number of days."""
    stale = Blank.objects.filter(holds__isnull=False).exclude(holds__over_days=shop.settled_days)
    pks = list(stale.values_list("pk", flat=True))
    for start in range(0, len(pks), 500):
        sum_up(Blank.objects.filter(pk__in=pks[start : start + 500]), shop)
