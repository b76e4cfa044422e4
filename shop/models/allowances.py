"""What is left on and where: kept by the shop as its habit, copied into each spec."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models

from geometry.request import Allowances
from shop.fields import LengthField

_NOT_NEGATIVE = [MinValueValidator(Decimal(0), "It cannot be negative.")]


def _allowance(name: str, default: str, help_text: str) -> LengthField:
    return LengthField(name, default=Decimal(default), help_text=help_text, validators=_NOT_NEGATIVE)


class AllowanceFields(models.Model):
    """The allowances, with the trade's starting values (common practice, no source)."""

    edge = _allowance("edge", "3", "Left on at each side, so that torn edges fall in the waste.")
    end = _allowance("end", "10", "Run-out at each end, for tear-out.")
    proving = _allowance("proving strip", "25", "Beyond the heel end, for trying the depth.")
    flatten = _allowance("flattening", "0.4", "Taken off each face to make it flat.")
    skim = _allowance("skim", "0.15", "Taken off along the centre by the radius cut.")
    sanding = _allowance("sanding", "0.15", "Left on for the final sanding after gluing.")
    clearance = _allowance("clearance", "0.3", "Under the tang, on the lowest part of the slot.")
    web_min = _allowance("least web", "1.5", "Wood that must stay under a slot.")

    ALLOWANCES = ("edge", "end", "proving", "flatten", "skim", "sanding", "clearance", "web_min")

    class Meta:
        abstract = True

    def copy_allowances(self, source: AllowanceFields) -> None:
        """Take over all allowances of another."""
        for name in self.ALLOWANCES:
            setattr(self, name, getattr(source, name))

    def as_allowances(self) -> Allowances:
        """Give the allowances as geometry asks for them."""
        return Allowances(
            **{name: float(getattr(self, name)) for name in ("edge", "end", "proving", "flatten", "skim", "sanding")}
        )
