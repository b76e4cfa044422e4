"""What an hour at each stage costs, and the shop's own word for its money."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models


def _rate(name: str) -> models.DecimalField:
    return models.DecimalField(
        name, max_digits=9, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(Decimal(0))]
    )


class RateFields(models.Model):
    """Money for an hour at each stage: the person and the machine together. Empty: not known, which is not nothing."""

    money = models.CharField(
        "word for money",
        max_length=12,
        blank=True,
        help_text="As it is to stand behind every sum. Empty: sums stand alone.",
    )
    thicknessing_rate = _rate("an hour of thicknessing")
    slotting_rate = _rate("of slotting")
    radiusing_rate = _rate("of radiusing")
    tapering_rate = _rate("of tapering")
    gluing_rate = _rate("of gluing")

    RATES = ("money", "thicknessing_rate", "slotting_rate", "radiusing_rate", "tapering_rate", "gluing_rate")

    class Meta:
        abstract = True

    def rate(self, stage: str) -> Decimal | None:
        """Say what an hour at a stage costs; None where the shop has not said."""
        return getattr(self, f"{stage}_rate", None)
