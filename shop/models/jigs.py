"""The radius jig with its formers, what stands on it, and the boards that tested it."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower

from geometry.errors import Problem
from geometry.former import radius_cut, rail_plane_on
from geometry.measuring import UNKNOWN, check_former, check_jig
from geometry.request import Former as FormerRequest
from geometry.request import Jig as JigRequest
from geometry.units import LengthStyle
from shop.fields import LengthField
from shop.models.kit import Cutter
from shop.models.taps import Changed, Hand, Refused

# A board of the trade's usual thickness, to say what a former cuts (common practice, no source).
USUAL_THICKNESS = 6.0
# Rails that lie further than this from the jig's rail plane are asked about, mm.
PLANE_TOLERANCE = 0.5


def _known(value: Decimal | None) -> float:
    return UNKNOWN if value is None else float(value)


class Measured(models.Model):
    """Something measured. What geometry finds wrong with it is said beside the measure, in the shop's unit."""

    style = LengthStyle.MM  # how lengths are written in what is found wrong; a form sets the shop's

    class Meta:
        abstract = True

    def problems(self) -> list[Problem]:
        """Find what is wrong, by the names of fields."""
        raise NotImplementedError

    def clean(self) -> None:
        """Refuse measures that cannot be."""
        super().clean()
        wrong: dict[str, list[str]] = {}
        for problem in self.problems():
            wrong.setdefault(problem.field, []).append(problem.message)
        if wrong:
            raise ValidationError(wrong)


class Jig(Measured):
    """A radius jig, measured as the drawings beside its fields show."""

    name = models.CharField(max_length=60, unique=True)
    span = LengthField(help_text="From the middle of one former to that of the other.")
    end_clearance = LengthField(
        "end clearance", default=Decimal(60), help_text="From the middle of a former to where a blank may begin."
    )
    rule_zero = LengthField(
        "zero of the bed's rule", default=Decimal(0), help_text="From the middle of the head former."
    )
    rail_spacing = LengthField("distance between the rails", help_text="From the middle of one to that of the other.")
    rail_diameter = LengthField("rail diameter")
    rail_plane = LengthField("height of the rail plane", help_text="From the bed to the middle of the rails.")
    riser = LengthField(help_text="Thickness of the part that comes out for a board on its neck.")
    packing = LengthField(default=Decimal("0.2"), help_text="Tape or paper between riser and board.")
    edge_tolerance = LengthField(
        "tolerance at the edge", default=Decimal("0.05"), help_text="How far the board's edge may be off."
    )
    former_margin = LengthField(
        "margin at the sides of a former", default=Decimal(10), help_text="Beyond where the rails touch at the last."
    )
    hole_spacing = LengthField("distance between the screw holes", null=True, blank=True)
    hole_diameter = LengthField("diameter of the screw holes", null=True, blank=True)
    hole_height = LengthField("height of the screw holes", null=True, blank=True, help_text="Above the bed.")
    remarks = models.TextField(max_length=2000, blank=True)

    head_former = models.ForeignKey(
        "Former", on_delete=models.SET_NULL, null=True, blank=True, related_name="+", verbose_name="former at the head"
    )
    heel_former = models.ForeignKey(
        "Former", on_delete=models.SET_NULL, null=True, blank=True, related_name="+", verbose_name="former at the heel"
    )
    riser_in = models.BooleanField("the riser is in", default=True)
    cutter = models.ForeignKey(Cutter, on_delete=models.SET_NULL, null=True, blank=True, related_name="+")
    set_at = models.DateTimeField(null=True, blank=True)
    set_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    version = models.PositiveIntegerField(default=0)

    MEASURES = (
        *("span", "end_clearance", "rail_spacing", "rail_diameter", "rail_plane", "riser", "packing"),
        *("edge_tolerance", "former_margin"),
    )
    HOLES = ("hole_spacing", "hole_diameter", "hole_height")

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(span__gt=0, rail_plane__gt=0, edge_tolerance__gte=0, former_margin__gte=0, rule_zero__gte=0)
                & Q(end_clearance__gte=0, rail_spacing__gte=0, rail_diameter__gte=0, riser__gte=0, packing__gte=0),
                name="jig_has_size",
            ),
            models.CheckConstraint(condition=Q(span__gt=F("end_clearance") * 2), name="jig_has_a_bed"),
            models.CheckConstraint(
                condition=Q(rail_spacing=0) | Q(rail_spacing__gte=F("rail_diameter")), name="jig_rails_stand_apart"
            ),
            models.CheckConstraint(
                condition=Q(rail_plane__gt=F("riser") + F("packing")), name="jig_rails_lie_above_the_riser"
            ),
            models.CheckConstraint(
                condition=Q(hole_spacing=None, hole_diameter=None, hole_height=None)
                | Q(hole_spacing__isnull=False, hole_diameter__isnull=False, hole_height__isnull=False)
                & Q(hole_spacing__gt=F("hole_diameter"), hole_diameter__gt=0, hole_height__gt=0),
                name="jig_holes_are_whole",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def problems(self) -> list[Problem]:
        """Find what is wrong with the measures, and with the holes among themselves."""
        wrong = check_jig(self.as_request(), self.style)
        if self.span is not None and self.rule_zero is not None and self.rule_zero > self.span:
            wrong.append(Problem("rule_zero", "The rule begins beyond the other former."))
        missing = [name for name in self.HOLES if getattr(self, name) is None]
        if 0 < len(missing) < len(self.HOLES):
            wrong.append(Problem(missing[0], "The three measures of the holes go together: give all of them or none."))
        elif not missing and self.hole_spacing <= self.hole_diameter:
            wrong.append(Problem("hole_spacing", "The holes would run into one another. Measure middle to middle."))
        return wrong

    def as_request(self) -> JigRequest:
        """Give the jig as geometry asks for it; what is not known yet is NaN."""
        return JigRequest(**{name: _known(getattr(self, name)) for name in self.MEASURES})

    @property
    def bed(self) -> Decimal:
        """How long a blank may be."""
        return self.span - 2 * self.end_clearance

    def on_rule(self, along: float) -> float:
        """Say where a place along the jig, from the head former, lies on the bed's rule, mm."""
        return along - float(self.rule_zero)

    def stand(
        self,
        hand: Hand,
        seen: int,
        *,
        head: Former | None,
        heel: Former | None,
        riser_in: bool,
        cutter: Cutter | None,
    ) -> None:
        """Write down what stands on the jig from now on."""
        for former in {head, heel} - {None}:
            needed = (head, heel).count(former)
            if former.jig_id != self.pk:
                raise Refused(f"Former {former} belongs to another jig.")
            if former.count < needed:
                raise Refused(f"Former {former}: there {_there_are(former.count)}, and this needs {needed}.")
        self._change(
            seen,
            head_former=head,
            heel_former=heel,
            riser_in=riser_in,
            cutter=cutter,
            set_at=hand.at,
            set_by=hand.by,
        )

    def move_heights(self, seen: int, by: Decimal) -> None:
        """Move the rail plane, and with it the apex of every former: all are heights above the same bed."""
        moved = [(former, former.apex + by) for former in self.formers.all()]
        self.rail_plane += by
        try:
            self.clean()
            for former, apex in moved:
                former.jig, former.apex = self, apex
                former.clean()
        except ValidationError as error:
            raise Refused("That cannot be: " + " ".join(error.messages)) from None
        self._change(seen, rail_plane=self.rail_plane)
        for former, _ in moved:
            former.save(update_fields=["apex"])

    def _change(self, seen: int, **values: object) -> None:
        """Write values on the version that the person saw."""
        if not Jig.objects.filter(pk=self.pk, version=seen).update(version=seen + 1, **values):
            raise Changed(f"Somebody has changed {self.name} since you saw it.", self)
        for name, value in {**values, "version": seen + 1}.items():
            setattr(self, name, value)


def _there_are(count: int) -> str:
    return {0: "is none left", 1: "is one"}.get(count, f"are {count}")


class Former(Measured):
    """A shaped end of a jig. Its radius is known, or was worked out from a chord and the height over it."""

    jig = models.ForeignKey(Jig, on_delete=models.CASCADE, related_name="formers")
    name = models.CharField(max_length=60, help_text="As it is written on the former.")
    radius = LengthField("radius of the arc")
    chord = LengthField("chord", null=True, blank=True, help_text="Across the arc, between two points of equal height.")
    chord_height = LengthField(
        "height over the chord", null=True, blank=True, help_text="From those two points up to the apex."
    )
    apex = LengthField("height of the apex", help_text="From the bed to the highest point of the arc.")
    width = LengthField("width of the arc", null=True, blank=True, help_text="Square across, from end to end.")
    count = models.PositiveSmallIntegerField(
        "how many there are",
        default=1,
        validators=[MaxValueValidator(1000)],
        help_text="The same radius at both ends takes two.",
    )
    place = models.CharField("where they hang", max_length=60, blank=True)
    made_on = models.DateField("made on", null=True, blank=True)
    remarks = models.TextField(max_length=1000, blank=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["radius", "name"]
        constraints = [
            models.UniqueConstraint("jig", Lower("name"), name="former_name_is_single_on_its_jig"),
            models.CheckConstraint(condition=Q(radius__gt=0, apex__gt=0), name="former_has_size"),
            models.CheckConstraint(
                condition=Q(chord=None, chord_height=None)
                | Q(chord__isnull=False, chord_height__isnull=False)
                & Q(chord__gt=0, chord_height__gt=0, chord__gte=F("chord_height") * 2),
                name="former_chord_is_whole",
            ),
            models.CheckConstraint(
                condition=Q(width=None) | Q(width__gt=0, width__lte=F("radius") * 2), name="former_arc_is_round"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def problems(self) -> list[Problem]:
        """Find what is wrong with the measures on this jig."""
        width = None if self.width is None else float(self.width)
        return check_former(self.as_request(), self.jig.as_request(), self.style, width=width)

    def as_request(self) -> FormerRequest:
        """Give the former as geometry asks for it; what is not known yet is NaN."""
        return FormerRequest(self.name, _known(self.radius), _known(self.apex), self.count)

    @property
    def cuts(self) -> float:
        """The radius that two of it cut into a board of the usual thickness, mm."""
        return radius_cut(self.jig.as_request(), self.as_request(), USUAL_THICKNESS)

    @property
    def off_plane(self) -> float:
        """How far above the jig's rail plane the rails lie on it, mm."""
        jig = self.jig.as_request()
        return rail_plane_on(jig, self.as_request()) - jig.rail_plane

    @property
    def keeps_the_plane(self) -> bool:
        """Tell whether the rails lie on it where the jig's rail plane is."""
        return abs(self.off_plane) <= PLANE_TOLERANCE


class JigTest(models.Model):
    """A test board: what stood on the jig, what was read, and whether the rail plane was moved for it."""

    jig = models.ForeignKey(Jig, on_delete=models.CASCADE, related_name="tests")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    head_former = models.CharField(max_length=60)
    heel_former = models.CharField(max_length=60)
    length = LengthField()
    width = LengthField()
    thickness = LengthField()
    readings = models.JSONField(default=dict)
    head_over = LengthField("radius over at the head")
    heel_over = LengthField("radius over at the heel")
    moved = LengthField("rail plane moved up by", null=True, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.jig} {self.at:%Y-%m-%d}"
