"""The shop itself: its name, its habits, its numbers."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from functools import cached_property

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, RegexValidator, URLValidator
from django.db import models, transaction
from django.db.models import F
from django.utils import timezone

from geometry.checks import check_figure
from geometry.request import Former as FormerRequest
from geometry.units import LengthStyle
from shop.fields import LengthField
from shop.models.air import Air, AirHabits
from shop.models.allowances import AllowanceFields
from shop.models.jigs import Jig
from shop.models.kit import Cutter, SandingBlock
from shop.models.minutes import MinutesFields


class Paper(models.TextChoices):
    """What is in the printer (ISO 216 A4; ANSI/ASME Y14.1 letter)."""

    A4 = "A4", "A4"
    LETTER = "letter", "Letter"


class Lengths(models.TextChoices):
    """How lengths are shown. Either unit may be typed anywhere."""

    MM = LengthStyle.MM.value, "Millimetres"
    INCH_DECIMAL = LengthStyle.INCH_DECIMAL.value, "Inches, decimals"
    INCH_FRACTION = LengthStyle.INCH_FRACTION.value, "Inches, nearest 1/64"


class Shop(AllowanceFields, AirHabits, MinutesFields):
    """The one row of the shop's settings. Allowances here are what a new spec starts from."""

    name = models.CharField("shop's name", max_length=60, default="Our shop")
    lengths = models.CharField(max_length=16, choices=Lengths, default=Lengths.MM)
    paper = models.CharField(max_length=8, choices=Paper, default=Paper.A4)
    web_address = models.CharField(
        "address on sheets",
        max_length=200,
        blank=True,
        validators=[
            URLValidator(["http", "https"], message="Write the whole of it, such as http://192.168.1.20:8000.")
        ],
        help_text="What a QR code opens, for example http://192.168.1.20:8000. Empty: the address you print from.",
    )
    cutter = models.ForeignKey(
        Cutter, on_delete=models.PROTECT, null=True, blank=True, verbose_name="cutter on the radius jig"
    )
    jig = models.ForeignKey(
        Jig, on_delete=models.SET_NULL, null=True, blank=True, related_name="+", verbose_name="radius jig in use"
    )
    feed_mm_per_min = LengthField(
        "feed along the board, each minute",
        default=Decimal(1500),
        validators=[MinValueValidator(Decimal(1), "It cannot be nothing.")],
        help_text="What a run is reckoned to take (common practice, no source).",
    )
    scallop_max = LengthField("highest step between passes", default=Decimal("0.05"))
    thickness_tolerance = LengthField("tolerance of thickness", default=Decimal("0.1"))
    corner_tolerance = LengthField("tolerance of corners", default=Decimal("0.1"))
    slot_tolerance = LengthField("tolerance of slot depth", default=Decimal("0.1"))
    width_tolerance = LengthField("tolerance of width", default=Decimal("0.3"))
    rest_days = models.PositiveSmallIntegerField(
        "days a blank rests",
        default=28,
        validators=[MaxValueValidator(3650)],
        help_text="Before it counts as waiting rather than resting.",
    )
    horizon_days = models.PositiveSmallIntegerField(
        "days that count as soon",
        default=14,
        validators=[MinValueValidator(1), MaxValueValidator(365)],
        help_text="Boards due within them go to the front.",
    )
    buying_step = LengthField(
        "length and width, in steps of",
        default=Decimal(5),
        validators=[MinValueValidator(Decimal("0.1"), "It is too fine to be asked for.")],
        help_text="What is asked for at the dealer is rounded up to them (common practice, no source).",
    )
    buying_step_thickness = LengthField(
        "thickness, in steps of",
        default=Decimal("0.5"),
        validators=[MinValueValidator(Decimal("0.01"), "It is too fine to be asked for.")],
    )
    spoiled_in_hundred = models.PositiveSmallIntegerField(
        "boards spoiled in a hundred",
        default=5,
        validators=[MaxValueValidator(90)],
        help_text="Until the shop's own log says more (common practice, no source).",
    )
    version = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        verbose_name = verbose_name_plural = "shop"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(buying_step__gt=0, buying_step_thickness__gt=0), name="shop_buys_in_steps"
            ),
            models.CheckConstraint(condition=models.Q(pk=1), name="there_is_one_shop"),
            models.CheckConstraint(condition=models.Q(feed_mm_per_min__gt=0), name="shop_feeds_forward"),
            models.CheckConstraint(condition=models.Q(clamps__gt=0), name="shop_has_clamps"),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Refuse habits that no board could be worked out with."""
        super().clean()
        of_geometry = {name: f"allowances.{name}" for name in self.ALLOWANCES}
        of_geometry |= {"web_min": "web_min", "clearance": "wire.clearance", "scallop_max": "scallop_max"}
        wrong = {
            name: problem.message
            for name, field in of_geometry.items()
            if (value := getattr(self, name)) is not None and (problem := check_figure(field, float(value), self.style))
        }
        if wrong:
            raise ValidationError(wrong)

    @classmethod
    def current(cls) -> Shop:
        """Fetch the shop's settings, made with starting values the first time."""
        return cls.objects.select_related("cutter", "jig__head_former", "jig__heel_former").get_or_create(pk=1)[0]

    @classmethod
    def work_with(cls, *, jig: Jig | None, cutter: Cutter | None, at: datetime) -> None:
        """Take up a jig and the cutter on it. Whoever has the habits open is told that they have changed."""
        others = cls.objects.exclude(jig=jig, cutter=cutter)
        if cutter is not None and others.exclude(cutter=cutter).exists():
            Cutter.objects.filter(pk=cutter.pk).update(counts_since=at)
        others.update(jig=jig, cutter=cutter, version=F("version") + 1)

    @cached_property
    def air(self) -> Air:
        """The air of late, fetched once."""
        return self.air_of(timezone.now())

    @cached_property
    def formers(self) -> tuple[FormerRequest, ...]:
        """The formers that the jig in use has, as geometry asks for them."""
        if self.jig is None:
            return ()
        return tuple(former.as_request() for former in self.jig.formers.filter(count__gt=0))

    @cached_property
    def blocks(self) -> tuple[SandingBlock, ...]:
        """The sanding blocks that are there."""
        return tuple(SandingBlock.objects.filter(count__gt=0))

    @property
    def standing(self) -> tuple[str, str] | None:
        """The formers that stand on the jig by now, head end first."""
        if self.jig is None or self.jig.head_former is None or self.jig.heel_former is None:
            return None
        return self.jig.head_former.name, self.jig.heel_former.name

    @property
    def style(self) -> LengthStyle:
        """How this shop writes lengths."""
        return LengthStyle(self.lengths)


class Series(models.Model):
    """A running series of numbers: how they look is the shop's choice."""

    class Kind(models.TextChoices):
        BLANK = "blank", "Blanks"
        BUILD = "build", "Builds"

    kind = models.CharField(max_length=8, choices=Kind, primary_key=True)
    prefix = models.CharField(
        max_length=8,
        blank=True,
        validators=[RegexValidator(r"^[A-Za-z0-9-]*\Z", "Letters, digits and hyphens only.")],
    )
    with_year = models.BooleanField("year in the number", default=False, help_text="Starts anew each year.")
    digits = models.PositiveSmallIntegerField(default=4, validators=[MinValueValidator(1), MaxValueValidator(8)])
    last = models.PositiveIntegerField("last number given", default=0)
    last_year = models.PositiveSmallIntegerField(default=0)

    class Meta:
        verbose_name = "number series"
        verbose_name_plural = "number series"

    def __str__(self) -> str:
        return self.get_kind_display()

    def number(self, year: int, count: int) -> str:
        """Write one number of the series."""
        year_part = f"{year % 100:02}-" if self.with_year else ""
        return f"{self.prefix}{year_part}{count:0{self.digits}}"

    @classmethod
    def peek(cls, kind: str, on: date) -> str:
        """Show the number that would come next, without taking it."""
        series, _ = cls.objects.get_or_create(kind=kind)
        fresh = series.with_year and series.last_year != on.year
        return series.number(on.year, 1 if fresh else series.last + 1)

    @classmethod
    def take(cls, kind: str, how_many: int, on: date) -> list[str]:
        """Take the next numbers of a series; two people at once never get the same."""
        with transaction.atomic():
            series, _ = cls.objects.select_for_update().get_or_create(kind=kind)
            rows = cls.objects.filter(pk=kind)
            if series.with_year:
                rows.exclude(last_year=on.year).update(last=0, last_year=on.year)
            rows.update(last=F("last") + how_many)
            series.refresh_from_db()
            return [series.number(on.year, series.last - how_many + step) for step in range(1, how_many + 1)]
