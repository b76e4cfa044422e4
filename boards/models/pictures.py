"""Photographs of a blank, and the papers that say where it came from. The files themselves: `boards.files`."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.utils import timezone

from boards.files import SMALL_SIDE, small
from boards.models.blank import Blank


class Photograph(models.Model):
    """One photograph of one blank."""

    MOST = 40  # of one blank

    blank = models.ForeignKey(Blank, on_delete=models.PROTECT, related_name="photographs")
    file = models.CharField(max_length=80)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    note = models.CharField(max_length=120, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]
        constraints = [models.UniqueConstraint(fields=["blank", "file"], name="each_photograph_once")]
        indexes = [models.Index(fields=["file"], name="photograph_by_file")]

    def __str__(self) -> str:
        return f"{self.blank}, {self.note or 'photograph'}"

    @property
    def small(self) -> str:
        """Name its small version."""
        return small(self.file)

    @property
    def shown_size(self) -> tuple[int, int]:
        """How large the small version is, in pixels: a page keeps the place for it."""
        scale = min(1.0, SMALL_SIDE / max(self.width, self.height))
        return max(1, round(self.width * scale)), max(1, round(self.height * scale))


class Paper(models.Model):
    """An invoice, a permit or the like. It may cover a whole box; its file is kept once."""

    class Kind(models.TextChoices):
        """What kind of paper it is."""

        INVOICE = "invoice", "Invoice"
        DELIVERY = "delivery", "Delivery note"
        PERMIT = "permit", "Permit or certificate of an authority"
        DECLARATION = "declaration", "Declaration of origin"
        OTHER = "other", "Other"

    blanks = models.ManyToManyField(Blank, related_name="papers")
    kind = models.CharField("what it is", max_length=12, choices=Kind, default=Kind.INVOICE)
    number = models.CharField("its number", max_length=60, blank=True)
    issued_by = models.CharField("issued by", max_length=80, blank=True)
    dated = models.DateField("its date", null=True, blank=True)
    says = models.CharField(
        "what it says of the wood",
        max_length=300,
        blank=True,
        help_text="For example the country that it was felled in.",
    )
    file = models.CharField(max_length=80, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["dated", "pk"]
        indexes = [models.Index(fields=["file"], name="paper_by_file")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}".strip()

    def clean(self) -> None:
        """Refuse a date that cannot be meant."""
        super().clean()
        if self.dated and self.dated > timezone.localdate() + timedelta(days=1):
            raise ValidationError({"dated": "That day is still to come."})
