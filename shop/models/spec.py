"""A spec: what the finished board must be. Patterns keep one; builds copy it."""

from __future__ import annotations

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from geometry.errors import GeometryError
from geometry.request import BlankSize, Board, Cutter, EndRadii, Request, TwoScales, Wire
from geometry.result import Result
from geometry.units import LengthStyle
from geometry.workout import work_out
from shop.fields import LengthField
from shop.models.allowances import AllowanceFields
from shop.models.kit import FretWire, Route, Species

# Where geometry's field names and ours part.
_FIELD_OF = {
    "board.scale": "scale",
    "board.scale.bass": "bass_scale",
    "board.scale.treble": "scale",
    "board.scale.square_fret": "square_fret",
    "board.scale.inset": "inset",
    "board.radius.nut": "radius_nut",
    "board.radius.heel": "radius_heel",
    "board.radius": "radius_nut",
    "wire.tang": "wire",
    "wire.kerf": "wire",
}


class RadiusBy(models.TextChoices):
    """What gives a board its radius."""

    JIG = "jig", "The radius jig"
    BLOCK = "block", "A sanding block"


class Spec(AllowanceFields):
    """The measures of a finished board, the wire it takes and the route it goes."""

    style = LengthStyle.MM  # how lengths are written in what is found wrong; a form sets the shop's

    scale = LengthField("scale length", help_text="Of the treble side where there are two.")
    bass_scale = LengthField("bass scale length", null=True, blank=True, help_text="Only for fanned frets.")
    square_fret = models.PositiveSmallIntegerField("square fret", null=True, blank=True)
    inset = LengthField("string inset", default=Decimal("3.5"), help_text="Outer strings from the edges.")
    frets = models.PositiveSmallIntegerField(default=22, validators=[MinValueValidator(1), MaxValueValidator(60)])
    nut_width = LengthField("width at the nut")
    heel_width = LengthField("width at the heel")
    overhang = LengthField(default=Decimal("8"), help_text="Beyond the last fret.")
    nut_ledge = LengthField("nut ledge", default=Decimal("0"), help_text="Board behind the nut face.")
    thickness = LengthField("finished thickness", help_text="On the centreline.")
    radius_nut = LengthField("radius at the nut", null=True, blank=True, help_text="Leave both empty for a flat board.")
    radius_heel = LengthField("radius at the heel", null=True, blank=True, help_text="Empty: as at the nut.")
    wire = models.ForeignKey(FretWire, on_delete=models.PROTECT, verbose_name="fret wire")
    species = models.ForeignKey(
        Species, on_delete=models.PROTECT, null=True, blank=True, verbose_name="wood", help_text="Empty: any."
    )
    radius_by = models.CharField("radius cut with", max_length=8, choices=RadiusBy, default=RadiusBy.JIG)
    route = models.ForeignKey(Route, on_delete=models.PROTECT)

    SPEC = (
        *("scale", "bass_scale", "square_fret", "inset", "frets", "nut_width", "heel_width", "overhang", "nut_ledge"),
        *("thickness", "radius_nut", "radius_heel", "wire", "species", "radius_by", "route"),
        *AllowanceFields.ALLOWANCES,
    )

    NEEDED = (
        *("scale", "inset", "frets", "nut_width", "heel_width", "overhang", "nut_ledge", "thickness", "wire", "route"),
        *AllowanceFields.ALLOWANCES,
    )

    class Meta:
        abstract = True
        constraints = [
            models.CheckConstraint(
                condition=Q(scale__gt=0, nut_width__gt=0, heel_width__gt=0, thickness__gt=0, frets__gt=0),
                name="%(class)s_has_size",
            ),
            models.CheckConstraint(
                condition=Q(bass_scale=None, square_fret=None) | Q(bass_scale__isnull=False, square_fret__isnull=False),
                name="%(class)s_fan_is_whole",
            ),
            models.CheckConstraint(
                # Without the words "not null" a missing radius would make the check unknown, which passes.
                condition=Q(radius_nut=None, radius_heel=None)
                | Q(radius_nut__isnull=False, radius_heel__isnull=False, radius_nut__gt=0, radius_heel__gt=0),
                name="%(class)s_radius_is_whole",
            ),
        ]

    def copy_spec(self, source: Spec) -> None:
        """Take over a whole spec: later changes of the source change nothing here."""
        for name in self.SPEC:
            setattr(self, name, getattr(source, name))

    def spec_differs(self, other: Spec) -> list[str]:
        """Name the measures in which two specs differ."""
        return [name for name in self.SPEC if getattr(self, name) != getattr(other, name)]

    def clean(self) -> None:
        """Complete what may be left out, and refuse a board that cannot be made."""
        super().clean()
        if self.radius_heel is None:
            self.radius_heel = self.radius_nut
        if self.radius_nut is None and self.radius_heel is not None:
            raise ValidationError({"radius_nut": "There is a radius at the heel but none at the nut."})
        if self.bass_scale is None and self.square_fret is not None:
            raise ValidationError({"bass_scale": "A square fret only makes sense with a bass scale length of its own."})
        if self.bass_scale is not None and self.square_fret is None:
            raise ValidationError({"square_fret": "Say which fret stands square across the board."})
        if not self._is_whole():
            return
        try:
            self.figures(self.style)
        except GeometryError as error:
            raise ValidationError(spec_errors(error)) from error

    def _is_whole(self) -> bool:
        """Tell whether all is there that geometry needs: a form comes here too when a box of it could not be read."""
        measures = (getattr(self, self._meta.get_field(name).attname) for name in self.NEEDED)
        return all(measure is not None for measure in measures)

    def as_request(self, *, blank: BlankSize | None = None, cutter: Cutter | None = None, **more: float) -> Request:
        """Ask geometry about this spec, for a certain blank where there is one."""
        scale: float | TwoScales = float(self.scale)
        if self.bass_scale is not None:
            scale = TwoScales(float(self.bass_scale), float(self.scale), int(self.square_fret or 0), float(self.inset))
        radius = None
        if self.radius_nut is not None:
            radius = EndRadii(float(self.radius_nut), float(self.radius_heel or self.radius_nut))
        return Request(
            board=Board(
                scale=scale,
                frets=self.frets,
                nut_width=float(self.nut_width),
                heel_width=float(self.heel_width),
                overhang=float(self.overhang),
                nut_ledge=float(self.nut_ledge),
                thickness=float(self.thickness),
                radius=radius,
            ),
            wire=Wire(float(self.wire.tang), float(self.wire.kerf), float(self.clearance)),
            slotting=self.route.slotting,
            web_min=float(self.web_min),
            allowances=self.as_allowances(),
            blank=blank,
            cutter=cutter,
            **more,
        )

    def figures(self, style: LengthStyle = LengthStyle.MM, **more: object) -> Result:
        """Work this spec out. Raises GeometryError where it cannot be made."""
        return work_out(self.as_request(**more), style)


def spec_errors(error: GeometryError) -> dict[str, list[str]]:
    """Put what geometry found wrong beside the boxes it was typed in."""
    errors: dict[str, list[str]] = {}
    for problem in error.problems:
        last = problem.field.rsplit(".", 1)[-1]
        name = _FIELD_OF.get(problem.field, last if last in Spec.SPEC else "__all__")
        errors.setdefault(name, []).append(problem.message)
    return errors
