"""Sheets of labels, known by their geometry alone: rows, columns, margins, sizes and pitches."""

from __future__ import annotations

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from geometry.units import LengthStyle, format_length
from shop.fields import LengthField

# Half of what a rule shows: whoever measured three labels of 70 mm on a sheet 210 mm wide has measured well enough.
CLOSE = Decimal("0.05")
LEAST_SIDE = Decimal(11)  # mm; below that no code of ours comes out with modules that a camera tells apart
LEAST_PAPER, MOST_PAPER = Decimal(15), Decimal(1000)
MOST_SHIFT = Decimal(20)
MOST_ON_A_SHEET = 400

_AT_LEAST_ONE = [MinValueValidator(1), MaxValueValidator(50)]


class LabelSheet(models.Model):
    """A sheet of labels, or a roll of single ones, as it is measured with a rule.

    The shift is the printer's, not the sheet's: how far everything is moved so that it lands where it belongs.
    """

    style = LengthStyle.MM  # how lengths are written in what is found wrong; a form sets the shop's

    name = models.CharField(max_length=60, unique=True)
    paper_width = LengthField("width of the sheet")
    paper_height = LengthField("height of the sheet", help_text="As it goes through the printer.")
    columns = models.PositiveSmallIntegerField("labels across", default=1, validators=_AT_LEAST_ONE)
    rows = models.PositiveSmallIntegerField("labels down", default=1, validators=_AT_LEAST_ONE)
    label_width = LengthField("width of a label")
    label_height = LengthField("height of a label")
    margin_left = LengthField("left margin", default=Decimal(0), help_text="From the edge to the first label.")
    margin_top = LengthField("top margin", default=Decimal(0), help_text="From the edge to the first label.")
    pitch_across = LengthField(
        "pitch across", null=True, blank=True, help_text="From one left edge to the next. Empty: the labels touch."
    )
    pitch_down = LengthField(
        "pitch down", null=True, blank=True, help_text="From one top edge to the next. Empty: the labels touch."
    )
    corner_radius = LengthField(default=Decimal(0), help_text="For the picture on the screen alone.")
    shift_right = LengthField(
        "shift to the right", default=Decimal(0), help_text="What this printer needs; less than 0 to the left."
    )
    shift_down = LengthField(
        "shift downwards", default=Decimal(0), help_text="What this printer needs; less than 0 upwards."
    )
    remarks = models.TextField(max_length=1000, blank=True)
    version = models.PositiveIntegerField(default=0, editable=False)

    MEASURES = (
        *("paper_width", "paper_height", "columns", "rows", "label_width", "label_height"),
        *("margin_left", "margin_top", "pitch_across", "pitch_down", "corner_radius", "shift_right", "shift_down"),
    )

    class Meta:
        ordering = ["paper_width", "paper_height", "name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(paper_width__gt=0, paper_height__gt=0, label_width__gt=0, label_height__gt=0)
                & Q(columns__gte=1, rows__gte=1, margin_left__gte=0, margin_top__gte=0, corner_radius__gte=0),
                name="label_sheet_has_size",
            ),
            models.CheckConstraint(
                condition=Q(pitch_across=None) | Q(pitch_across__gte=models.F("label_width")),
                name="labels_lie_side_by_side",
            ),
            models.CheckConstraint(
                condition=Q(pitch_down=None) | Q(pitch_down__gte=models.F("label_height")),
                name="labels_lie_below_one_another",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def count(self) -> int:
        """How many labels a sheet has."""
        return self.columns * self.rows

    @property
    def step(self) -> tuple[Decimal, Decimal]:
        """How far the next label lies across and down."""
        across = self.label_width if self.pitch_across is None else self.pitch_across
        return across, self.label_height if self.pitch_down is None else self.pitch_down

    def corner(self, place: int) -> tuple[Decimal, Decimal]:
        """Give the left upper corner of a label, counted from 1 line by line as one reads, before any shift."""
        row, column = divmod(place - 1, self.columns)
        across, down = self.step
        return self.margin_left + column * across, self.margin_top + row * down

    def clean(self) -> None:
        """Refuse labels that do not lie on their sheet, or on one another."""
        super().clean()
        wrong = {name: words for name, words in self._wrong_by_themselves() if words}
        if not wrong and all(getattr(self, name) is not None for name in ("columns", "rows")):
            wrong = {name: words for name, words in self._wrong_together() if words}
        if wrong:
            raise ValidationError(wrong)

    def _wrong_by_themselves(self) -> list[tuple[str, str]]:
        wrong = []
        for names, least, most in (
            (("paper_width", "paper_height"), LEAST_PAPER, MOST_PAPER),
            (("label_width", "label_height"), LEAST_SIDE, MOST_PAPER),
            (("shift_right", "shift_down"), -MOST_SHIFT, MOST_SHIFT),
            (("margin_left", "margin_top", "corner_radius"), Decimal(0), MOST_PAPER),
        ):
            for name in names:
                value = getattr(self, name)
                if value is None:
                    wrong.append((name, "Fill this in."))
                elif not least <= value <= most:
                    wrong.append((name, f"It must be from {self._said(least)} to {self._said(most)}."))
        return wrong

    def _wrong_together(self) -> list[tuple[str, str]]:
        (across, down), wrong = self.step, []
        for count, name, edge, size, step, margin, paper in (
            ("columns", "pitch_across", "right", "label_width", across, self.margin_left, self.paper_width),
            ("rows", "pitch_down", "lower", "label_height", down, self.margin_top, self.paper_height),
        ):
            many, side = getattr(self, count), getattr(self, size)
            if step < side:
                wrong.append((name, f"The labels would lie on one another: they are {self._said(side)} long here."))
                continue
            over = margin + (many - 1) * step + side - paper
            if over > CLOSE:
                beside = name if many > 1 and getattr(self, name) is not None else size
                what = "The last label ends" if many > 1 else "The label ends"
                wrong.append((beside, f"{what} {self._said(over)} beyond the {edge} edge of the sheet."))
        if self.count > MOST_ON_A_SHEET:
            wrong.append(("rows", f"That makes {self.count} labels on a sheet; {MOST_ON_A_SHEET} is the most."))
        if self.corner_radius * 2 > min(self.label_width, self.label_height):
            wrong.append(("corner_radius", "A corner cannot be rounder than half of the label."))
        return wrong

    def _said(self, value: Decimal) -> str:
        return format_length(value, self.style)
