"""Patterns and builds."""

from __future__ import annotations

from datetime import date

from django.core.validators import MaxValueValidator
from django.db import models

from shop.models.spec import Spec


class Pattern(Spec):
    """A spec that the shop builds again and again. Builds copy it."""

    name = models.CharField(max_length=80, unique=True)
    remarks = models.TextField(max_length=2000, blank=True)
    boards_a_year = models.PositiveSmallIntegerField(
        "boards a year",
        default=0,
        validators=[MaxValueValidator(9999)],
        help_text="How many of it the shop makes: the buying list reckons with them. 0: only what is ordered.",
    )
    version = models.PositiveIntegerField(default=0)

    class Meta(Spec.Meta):
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def short_name(self) -> str:
        """How it is called inside a sentence."""
        return self.name


class BuildQuerySet(models.QuerySet["Build"]):
    """Questions about builds."""

    def open(self) -> BuildQuerySet:
        """Those that are still to be delivered, the earliest due first; without a date last."""
        return self.filter(closed_on=None).order_by(models.F("due_on").asc(nulls_last=True), "number")


class NeckJoint(models.TextChoices):
    """How the neck joins the body."""

    GLUED = "glued", "Glued in"
    BOLTED = "bolted", "Bolted on"
    THROUGH = "through", "Neck through"


class Build(Spec):
    """An instrument on order or for stock."""

    number = models.CharField(max_length=24, unique=True)
    title = models.CharField("what it is", max_length=80)
    customer = models.CharField("for whom", max_length=80, blank=True, help_text="Leave empty when it is for stock.")
    due_on = models.DateField("due", null=True, blank=True)
    neck_joint = models.CharField("neck", max_length=8, choices=NeckJoint, default=NeckJoint.GLUED)
    pattern = models.ForeignKey(Pattern, on_delete=models.SET_NULL, null=True, blank=True, related_name="builds")
    remarks = models.TextField(max_length=2000, blank=True)
    closed_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=0)

    objects = BuildQuerySet.as_manager()

    class Meta(Spec.Meta):
        ordering = ["number"]
        indexes = [
            models.Index(fields=["closed_on", "due_on", "number"], name="build_by_due_day"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.title}"

    @property
    def short_name(self) -> str:
        """How it is called inside a sentence."""
        return self.number

    def is_late(self, today: date) -> bool:
        """Tell whether the promised day is over."""
        return self.closed_on is None and self.due_on is not None and self.due_on < today
