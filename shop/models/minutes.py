"""How long changing over takes: what the order of the day is reckoned with."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models


def _minutes(name: str, default: int, help_text: str = "") -> models.PositiveSmallIntegerField:
    return models.PositiveSmallIntegerField(
        name, default=default, validators=[MaxValueValidator(600)], help_text=help_text
    )


class MinutesFields(models.Model):
    """Minutes for each thing that is changed on a machine, with starting values (common practice, no source)."""

    former_minutes = _minutes("a former", 10, "Each end of the radius jig by itself.")
    riser_minutes = _minutes("the riser", 5)
    cutter_minutes = _minutes("the jig's cutter", 5)
    depth_minutes = _minutes("the cutter's depth", 5, "Set and proved on the waste strip; anew after any of these.")
    scale_minutes = _minutes("the saw's scale", 5, "Its template or stops.")
    slot_depth_minutes = _minutes("the slot depth", 5, "Proved on waste; anew after a change of the blade.")
    blade_minutes = _minutes("the saw's blade", 10)
    thickness_minutes = _minutes("the thickness", 5)
    template_minutes = _minutes("the taper's template", 5)
    cauls_minutes = _minutes("the cauls", 5)
    clamps = models.PositiveSmallIntegerField(
        "boards clamped at once",
        default=2,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
        help_text="As many as there are clamps and cauls for.",
    )
    clamp_minutes = _minutes("minutes in the clamps", 60, "Until they may come off.")

    CHANGES = (
        *("former_minutes", "riser_minutes", "cutter_minutes", "depth_minutes"),
        *("scale_minutes", "slot_depth_minutes", "blade_minutes"),
        *("thickness_minutes", "template_minutes", "cauls_minutes"),
    )
    CLAMPS = ("clamps", "clamp_minutes")

    class Meta:
        abstract = True
