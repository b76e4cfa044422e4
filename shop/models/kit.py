"""The kit: what stands on the shelves and machines, and what the wood is."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Greatest
from django.utils import timezone

from geometry.checks import check_figure
from geometry.moisture import coefficient_of
from geometry.request import Cutter as CutterRequest
from shop.fields import LengthField
from shop.stages import STAGES, route_trouble


class FixedOnceUsed(models.Model):
    """Something that specs refer to: once they do, its figures stay, or boards under way would change.

    Subclasses name the figures in `FIXED`.
    """

    FIXED: tuple[str, ...] = ()

    class Meta:
        abstract = True

    def is_used(self) -> bool:
        """Tell whether a pattern or a build refers to it."""
        return self.pk is not None and (self.build_set.exists() or self.pattern_set.exists())

    def clean(self) -> None:
        """Refuse new figures under a name that builds rely on."""
        super().clean()
        if not self.is_used():
            return
        kept = type(self).objects.get(pk=self.pk)
        for name in self.FIXED:
            if getattr(kept, name) != getattr(self, name):
                raise ValidationError({name: "Builds rely on this figure. Make a new one beside it instead."})


class Mark(models.TextChoices):
    """How far a published figure can be trusted."""

    READ = "read", "read in the publication"
    REPRINT = "reprint", "read in a reprint, or in a page that quotes it"
    WORKED_OUT = "computed", "worked out from published figures"
    MEMORY = "memory", "from memory, not seen"
    OWN = "own", "measured in this shop"


class Species(models.Model):
    """A wood, or a composite that takes its place.

    It moves by its coefficients; where only the shrinkage is known, by those that follow from it.
    """

    name = models.CharField(max_length=60, unique=True)
    botanical = models.CharField("botanical name", max_length=80, blank=True)
    composite = models.BooleanField(default=False, help_text="Resin-bonded board: does not move, needs no rest.")
    c_radial = models.DecimalField(
        "movement, radial", max_digits=7, decimal_places=5, null=True, blank=True, help_text="Per 1 % of moisture."
    )
    c_tangential = models.DecimalField(
        "movement, tangential", max_digits=7, decimal_places=5, null=True, blank=True, help_text="Per 1 % of moisture."
    )
    s_radial = models.DecimalField(
        "shrinkage, radial, %", max_digits=4, decimal_places=1, null=True, blank=True, help_text="Green to ovendry."
    )
    s_tangential = models.DecimalField(
        "shrinkage, tangential, %", max_digits=4, decimal_places=1, null=True, blank=True, help_text="Green to ovendry."
    )
    movement_source = models.CharField("where the figures are from", max_length=400, blank=True)
    movement_mark = models.CharField("how they were found", max_length=8, choices=Mark, blank=True)
    trade_note = models.TextField("trade control", max_length=600, blank=True)
    trade_note_on = models.DateField("trade note as of", null=True, blank=True)
    dust_note = models.TextField("dust", max_length=400, blank=True)
    dust_note_on = models.DateField("dust note as of", null=True, blank=True)
    version = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        ordering = ["name"]
        verbose_name_plural = "species"

    def __str__(self) -> str:
        return self.name

    @property
    def radial(self) -> float | None:
        """How much a quartersawn board changes across for each percent of moisture; None: nobody has said."""
        return _coefficient(self.c_radial, self.s_radial)

    @property
    def tangential(self) -> float | None:
        """How much a flatsawn board changes across for each percent of moisture; None: nobody has said."""
        return _coefficient(self.c_tangential, self.s_tangential)

    def moves_known(self, cut: str) -> bool:
        """Tell whether it is known how a board of a cut moves across: a rift one lies between the two others."""
        if self.composite:
            return True
        needed = {"quarter": [self.radial], "flat": [self.tangential]}.get(cut, [self.radial, self.tangential])
        return None not in needed


def _coefficient(given: Decimal | None, shrinkage: Decimal | None) -> float | None:
    if given is not None:
        return float(given)
    return None if shrinkage is None else float(coefficient_of(float(shrinkage)))


class FretWire(FixedOnceUsed):
    """Fret wire as the slot meets it."""

    FIXED = ("tang", "kerf")

    name = models.CharField(max_length=60, unique=True)
    tang = LengthField("tang depth")
    kerf = LengthField("slot width")

    class Meta:
        ordering = ["name"]
        verbose_name = "fret wire"
        constraints = [
            models.CheckConstraint(condition=Q(tang__gt=0) & Q(kerf__gt=0), name="wire_has_size"),
        ]

    def __str__(self) -> str:
        return self.name


class Cutter(models.Model):
    """A flat-bottomed cutter for the radius jig."""

    name = models.CharField(max_length=60, unique=True)
    diameter = LengthField()
    max_depth = LengthField("deepest bite in one pass")
    sharpened_on = models.DateField("sharpened on", null=True, blank=True, help_text="Or the day that it was new.")
    minutes_since_sharpening = models.DecimalField(
        "minutes cut since", max_digits=8, decimal_places=1, default=0, validators=[MinValueValidator(0)]
    )
    # Since when its minutes run on: it was sharpened then, or its minutes were typed, or it went onto the jig.
    counts_since = models.DateTimeField(null=True, editable=False)
    remarks = models.TextField(max_length=1000, blank=True)
    version = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        ordering = ["diameter", "name"]
        constraints = [
            models.CheckConstraint(condition=Q(diameter__gt=0) & Q(max_depth__gt=0), name="cutter_has_size"),
            models.CheckConstraint(condition=Q(minutes_since_sharpening__gte=0), name="cutter_minutes_count_up"),
        ]

    def __str__(self) -> str:
        return self.name

    def clean(self) -> None:
        """Refuse a size that no board could be worked out with."""
        super().clean()
        wrong = {
            name: problem.message
            for name in ("diameter", "max_depth")
            if (value := getattr(self, name)) is not None and (problem := check_figure(f"cutter.{name}", float(value)))
        }
        if wrong:
            raise ValidationError(wrong)

    def as_request(self) -> CutterRequest:
        """Give the cutter as geometry asks for it."""
        return CutterRequest(float(self.diameter), float(self.max_depth))

    def wear(self, minutes: float) -> None:
        """Count minutes in the wood; fewer than none when a mistaken tap is taken back.

        It is the machine's doing, not somebody's change: whoever has its page open may still keep it.
        """
        more = F("minutes_since_sharpening") + Decimal(f"{minutes:.1f}")
        Cutter.objects.filter(pk=self.pk).update(minutes_since_sharpening=Greatest(more, Decimal(0)))

    def holds_minutes_of(self, at: datetime) -> bool:
        """Tell whether what was cut on the jig at a time is among its minutes."""
        return self.counts_since is None or self.counts_since <= at

    def sharpen(self, at: datetime) -> None:
        """Start to count its minutes anew."""
        self.sharpened_on, self.minutes_since_sharpening, self.counts_since = timezone.localdate(at), 0, at
        self.save(update_fields=["sharpened_on", "minutes_since_sharpening", "counts_since"])


class SandingBlock(models.Model):
    """The other way to a radius: a block with a hollow of one radius, or a flat one."""

    name = models.CharField(max_length=60, unique=True)
    radius = LengthField(null=True, blank=True, help_text="Of the hollow. Empty: a flat block.")
    length = LengthField()
    count = models.PositiveSmallIntegerField(
        "how many there are", default=1, validators=[MinValueValidator(0), MaxValueValidator(1000)]
    )
    place = models.CharField("where they lie", max_length=60, blank=True)
    version = models.PositiveIntegerField(default=0, editable=False)

    class Meta:
        ordering = [F("radius").asc(nulls_last=True), "name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(length__gt=0) & (Q(radius=None) | Q(radius__gt=0)), name="block_has_size"
            ),
        ]

    def __str__(self) -> str:
        return self.name


def check_stages(stages: object) -> None:
    """Refuse anything but an ordered list of known stages, each once."""
    if not isinstance(stages, list) or not stages:
        raise ValidationError("A route needs at least one stage.")
    unknown = [stage for stage in stages if stage not in STAGES]
    if unknown:
        raise ValidationError(f"No such stage: {unknown[0]}.")
    if len(set(stages)) != len(stages):
        raise ValidationError("A stage stands twice.")


class Route(FixedOnceUsed):
    """An ordered list of stages."""

    FIXED = ("stages",)

    name = models.CharField(max_length=60, unique=True)
    stages = models.JSONField(default=list, validators=[check_stages])
    place = models.PositiveSmallIntegerField("place in the list", default=100)

    class Meta:
        ordering = ["place", "name"]

    def __str__(self) -> str:
        return self.name

    @property
    def slotting(self) -> str:
        """Tell geometry whether slots are sawn into the flat top or into the curve."""
        if "radiusing" in self.stages and "slotting" in self.stages:
            late = self.stages.index("slotting") > self.stages.index("radiusing")
        else:
            # Bought in slotted: sawn flat, before the radius. Bought in radiused: the slots follow the curve.
            late = "slotting" in self.stages
        return "after radiusing" if late else "before radiusing"

    @property
    def trouble(self) -> list[str]:
        """What the order of these stages is known to bring."""
        return route_trouble(self.stages)
