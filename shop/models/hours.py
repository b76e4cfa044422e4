"""When the shop works, with how many hands, and how long a stage takes before its log can say."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from geometry.hours import WorkingHours
from shop.models.rates import RateFields

WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]


def _monday_to_friday() -> list[int]:
    return [0, 1, 2, 3, 4]


def _minutes(name: str, default: int) -> models.PositiveSmallIntegerField:
    return models.PositiveSmallIntegerField(
        name, default=default, validators=[MinValueValidator(1), MaxValueValidator(600)]
    )


class Week(RateFields):
    """The one row that says how the shop's week goes. All starting values: common practice, no source."""

    weekdays = models.JSONField(default=_monday_to_friday)  # 0 is Monday
    opens_at = models.TimeField("work begins at", default=time(8))
    break_from = models.TimeField("break from", null=True, blank=True, default=time(12))
    break_until = models.TimeField("until", null=True, blank=True, default=time(13))
    closes_at = models.TimeField("work ends at", default=time(17))
    hands = models.PositiveSmallIntegerField(
        "people at the boards",
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(50)],
        help_text="How many boards can be worked on at the same moment.",
    )
    thicknessing_minutes = _minutes("thicknessing", 12)
    slotting_minutes = _minutes("slotting", 35)
    radiusing_minutes = _minutes("radiusing", 25)
    tapering_minutes = _minutes("tapering", 12)
    gluing_minutes = _minutes("gluing, until the clamps are on", 15)
    cure_hours = models.PositiveSmallIntegerField(
        "hours that glue cures",
        default=24,
        validators=[MaxValueValidator(24 * 14)],
        help_text="On the clock, before the board is worked on or counts as done. The glue's maker says how long.",
    )
    version = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="there_is_one_week"),
            models.CheckConstraint(condition=Q(closes_at__gt=F("opens_at")), name="week_closes_after_it_opens"),
            models.CheckConstraint(condition=Q(hands__gt=0), name="week_has_hands"),
            *(
                models.CheckConstraint(condition=Q(**{f"{name}__gte": 0}), name=f"week_{name}_is_not_negative")
                for name in RateFields.RATES[1:]
            ),
        ]

    def __str__(self) -> str:
        return f"{self.opens_at:%H:%M} to {self.closes_at:%H:%M}"

    @classmethod
    def current(cls) -> Week:
        """Give the shop's week; its starting values as long as nobody has said otherwise."""
        return cls.objects.filter(pk=1).first() or cls(pk=1)

    def clean(self) -> None:
        """Refuse a day that could not be."""
        super().clean()
        opens, closes = self.opens_at, self.closes_at
        if opens and closes and closes <= opens:
            raise ValidationError({"closes_at": "The day ends before it begins."})
        if (self.break_from is None) != (self.break_until is None):
            missing = "break_from" if self.break_from is None else "break_until"
            raise ValidationError({missing: "A break needs both times, or neither."})
        if self.break_from and opens and closes and not opens <= self.break_from < self.break_until <= closes:
            raise ValidationError({"break_until": "The break has to lie between the day's beginning and its end."})
        if not self.weekdays:
            raise ValidationError({"weekdays": "Choose one day at least."})

    def minutes(self, stage: str) -> int:
        """Say how long a stage takes by these settings."""
        return getattr(self, f"{stage}_minutes")

    @property
    def day(self) -> list[tuple[time, time]]:
        """The stretches of a working day, without its break."""
        if self.break_from is None or self.break_until is None:
            return [(self.opens_at, self.closes_at)]
        stretches = [(self.opens_at, self.break_from), (self.break_until, self.closes_at)]
        return [(start, end) for start, end in stretches if start < end]

    def hours(self, since: datetime, days: int) -> WorkingHours:
        """Lay out the working hours of so many days from a moment, in minutes from it."""
        first = timezone.localdate(since)
        last = first + timedelta(days=days)
        off = {
            first + timedelta(days=step)
            for free in DayOff.objects.filter(last__gte=first, first__lte=last)
            for step in range(max((free.first - first).days, 0), min((free.last - first).days, days) + 1)
        }
        shifts = []
        for step in range(days + 1):
            day = first + timedelta(days=step)
            if day.weekday() not in self.weekdays or day in off:
                continue
            for start, end in self.day:
                begins, ends = (_minutes_between(since, _at(day, moment)) for moment in (start, end))
                if ends > 0:
                    shifts.append((max(begins, 0.0), ends))
        return WorkingHours.of(shifts)


def _minutes_between(since: datetime, until: datetime) -> float:
    # Not their difference: within one time zone that leaves out the hour by which clocks are put forward or back.
    return (until.timestamp() - since.timestamp()) / 60


def _at(day: date, moment: time) -> datetime:
    return timezone.make_aware(datetime.combine(day, moment))


class DayOff(models.Model):
    """A day on which nobody works, or several in a row."""

    first = models.DateField("from")
    last = models.DateField("until, that day too")
    why = models.CharField(max_length=60, blank=True)

    class Meta:
        ordering = ["first"]
        verbose_name = "day off"
        verbose_name_plural = "days off"
        constraints = [models.CheckConstraint(condition=Q(last__gte=F("first")), name="days_off_end_after_they_begin")]

    def __str__(self) -> str:
        return self.why or "Day off"

    def clean(self) -> None:
        """Refuse what cannot be meant."""
        super().clean()
        if self.first and self.last:
            if self.last < self.first:
                raise ValidationError({"last": "That is before the first day."})
            if (self.last - self.first).days > 366:
                raise ValidationError({"last": "That is more than a year."})
