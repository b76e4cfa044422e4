"""The shop's air: what was read of it, and what wood that lies in it comes to."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Avg, Count, Q
from django.utils import timezone

from geometry.moisture import equilibrium

COLDEST, HOTTEST = Decimal(-30), Decimal(60)  # degrees Celsius: beyond them a logger is broken
_PERCENT = [MinValueValidator(1, "It cannot be less than 1 %."), MaxValueValidator(99, "It cannot be more than 99 %.")]


@dataclass(frozen=True, slots=True)
class Air:
    """The air that the shop's wood lies in, and the moisture that wood comes to in it.

    ``readings`` is how many it is the mean of; none: nobody has read it lately, and the middle of the shop's band
    stands in.
    """

    temperature_c: float
    humidity: float
    readings: int = 0

    @property
    def emc(self) -> float:
        """Equilibrium moisture content, percent."""
        return float(equilibrium(self.temperature_c, self.humidity))

    @property
    def is_read(self) -> bool:
        """Tell whether anybody has read it."""
        return self.readings > 0


class AirHabits(models.Model):
    """What the shop holds its air at, the seasons its instruments will see, and when it calls wood settled."""

    humidity_low = models.PositiveSmallIntegerField(
        "shop's humidity, least",
        default=42,
        validators=_PERCENT,
        help_text="The band that the shop is held in, % (common practice, no source).",
    )
    humidity_high = models.PositiveSmallIntegerField("shop's humidity, most", default=50, validators=_PERCENT)
    band_temperature = models.DecimalField(
        "shop's temperature, °C",
        max_digits=4,
        decimal_places=1,
        default=Decimal(20),
        validators=[MinValueValidator(0), MaxValueValidator(40)],
        help_text="That goes with the band.",
    )
    season_low = models.PositiveSmallIntegerField(
        "humidity of the dry season",
        default=30,
        validators=_PERCENT,
        help_text="That an instrument will see, % (common practice, no source).",
    )
    season_high = models.PositiveSmallIntegerField("humidity of the damp season", default=60, validators=_PERCENT)
    settled_within = models.DecimalField(
        "settled within, % moisture",
        max_digits=3,
        decimal_places=1,
        default=Decimal(1),
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(5)],
        help_text="Of what the shop's air leads to (common practice, no source).",
    )
    settled_steady = models.DecimalField(
        "steady within, % moisture",
        max_digits=3,
        decimal_places=1,
        default=Decimal("0.5"),
        validators=[MinValueValidator(Decimal("0.1")), MaxValueValidator(5)],
        help_text="Between two readings (common practice, no source).",
    )
    settled_days = models.PositiveSmallIntegerField(
        "days between those two",
        default=7,
        validators=[MinValueValidator(1), MaxValueValidator(90)],
        help_text="At least (common practice, no source).",
    )
    air_days = models.PositiveSmallIntegerField(
        "days of air that count",
        default=14,
        validators=[MinValueValidator(1), MaxValueValidator(365)],
        help_text="Wood is held against their mean.",
    )

    AIR = ("humidity_low", "humidity_high", "band_temperature", "season_low", "season_high", "air_days")
    SETTLED = ("settled_within", "settled_steady", "settled_days")

    class Meta:
        abstract = True

    def clean(self) -> None:
        """Refuse bands that are upside down."""
        super().clean()
        wrong = {}
        for low, high in (("humidity_low", "humidity_high"), ("season_low", "season_high")):
            least, most = getattr(self, low), getattr(self, high)
            if least is not None and most is not None and least >= most:
                wrong[high] = f"It must be more than {least} %."
        if wrong:
            raise ValidationError(wrong)

    def air_of(self, now: datetime) -> Air:
        """Give the mean of the air over the days that count; none read: the middle of the shop's band."""
        lately = AirReading.objects.standing().filter(at__gt=now - timedelta(days=self.air_days), at__lte=now)
        mean = lately.aggregate(temperature=Avg("temperature"), humidity=Avg("humidity"), readings=Count("pk"))
        if mean["readings"]:
            return Air(float(mean["temperature"]), float(mean["humidity"]), mean["readings"])
        return Air(float(self.band_temperature), (self.humidity_low + self.humidity_high) / 2)

    @property
    def band(self) -> tuple[float, float]:
        """Moisture that wood comes to at the dry and at the damp end of the shop's band, percent."""
        low, high = equilibrium(float(self.band_temperature), [self.humidity_low, self.humidity_high]).tolist()
        return low, high


class AirFile(models.Model):
    """A logger's file. Its text is kept until it is taken in, its name and what came of it for good."""

    name = models.CharField(max_length=120)
    text = models.TextField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    taken = models.PositiveIntegerField("readings taken in", null=True, help_text="Empty: it waits for its columns.")
    taken_back_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.name

    def forget_text(self, taken: int) -> None:
        """Note how many readings were taken in; the file itself is not needed any more."""
        self.text, self.taken = "", taken
        self.save(update_fields=["text", "taken"])

    def take_back(self, at: datetime) -> int:
        """Let none of its readings count any more, and tell how many they were."""
        self.taken_back_at = at
        self.save(update_fields=["taken_back_at"])
        return self.readings.filter(taken_back_at=None).update(taken_back_at=at)


class LoggerColumns(models.Model):
    """Which columns of a logger's file hold what, pointed out once and known again by the heading of the file."""

    heading = models.CharField(max_length=500, unique=True)
    when = models.PositiveSmallIntegerField()
    time = models.PositiveSmallIntegerField(null=True)
    temperature = models.PositiveSmallIntegerField()
    humidity = models.PositiveSmallIntegerField()
    fahrenheit = models.BooleanField(default=False)
    order = models.CharField(max_length=3, default="dmy")

    class Meta:
        verbose_name = verbose_name_plural = "columns of loggers"

    def __str__(self) -> str:
        return self.heading


class AirReadingQuerySet(models.QuerySet["AirReading"]):
    """Questions about the air."""

    def standing(self) -> AirReadingQuerySet:
        """Those that were not taken back."""
        return self.filter(taken_back_at=None)


class AirReading(models.Model):
    """Temperature and humidity of the shop's air at one moment, typed or from a logger's file."""

    at = models.DateTimeField("when")
    day = models.DateField(db_index=True, editable=False, help_text="Of the shop, so that a year is summed quickly.")
    temperature = models.FloatField("temperature, °C")
    humidity = models.FloatField("humidity, %")
    file = models.ForeignKey(AirFile, on_delete=models.PROTECT, null=True, related_name="readings")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField()
    device = models.CharField(max_length=200, blank=True)
    request_id = models.UUIDField(null=True, blank=True)
    taken_back_at = models.DateTimeField(null=True)

    objects = AirReadingQuerySet.as_manager()

    class Meta:
        ordering = ["-at"]
        constraints = [
            models.UniqueConstraint(fields=["at"], condition=Q(taken_back_at=None), name="one_air_at_a_time"),
            models.CheckConstraint(condition=Q(humidity__gte=0, humidity__lte=100), name="humidity_is_possible"),
            models.CheckConstraint(
                condition=Q(temperature__gte=float(COLDEST), temperature__lte=float(HOTTEST)),
                name="temperature_is_possible",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M}: {self.temperature:.1f} °C, {self.humidity:.0f} %"

    def save(self, *args: object, **kwargs: object) -> None:
        """Keep the day of the shop beside the moment."""
        self.day = timezone.localdate(self.at)
        super().save(*args, **kwargs)
