"""The form for a spec, shared by patterns and builds."""

from __future__ import annotations

from typing import Any

from django import forms

from shop.forms import ShopForm
from shop.models import Build, Pattern, Spec

# Outside these a figure is asked about, never refused (common practice, no source). Lengths are mm.
_USUAL = {
    "nut_width": (38, 56, "Width at the nut"),
    "heel_width": (50, 90, "Width at the heel"),
    "thickness": (5, 7, "Finished thickness"),
}
_USUAL_SCALES = ((600, 660), (760, 890))
_USUAL_FRETS = (12, 36)


class SpecForm(ShopForm, forms.ModelForm):
    """What the finished board must be."""

    class Meta:
        model = Build
        fields = Spec.SPEC

    LENGTH = ("scale", "frets", "overhang", "nut_ledge")
    FAN = ("bass_scale", "square_fret", "inset")
    ACROSS = ("nut_width", "heel_width", "thickness", "radius_nut", "radius_heel")
    WAY = ("wire", "species", "radius_by", "route")
    ALLOWANCES = Spec.ALLOWANCES

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("scale", "bass_scale", "nut_width", "heel_width", "thickness", "radius_nut", "radius_heel"):
            self.fields[name].allow_zero = False
        for name in ("frets", "square_fret"):
            self.fields[name].widget.attrs["inputmode"] = "numeric"
        for name, none in (("wire", "Choose the wire"), ("species", "Any wood"), ("route", "Choose the route")):
            self.fields[name].empty_label = none
        self.fields["radius_by"].required = False
        if self.initial.get("radius_heel") == self.initial.get("radius_nut"):
            self.initial["radius_heel"] = None  # as at the nut, and so it stays when the nut is changed
        if not self.initial.get("route"):
            self.initial["route"] = self.fields["route"].queryset.first()

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Give the fields in the order in which a maker asks."""
        return [
            ("Along the board", [self[name] for name in self.LENGTH]),
            ("Across the board", [self[name] for name in self.ACROSS]),
            ("Wire, wood and route", [self[name] for name in self.WAY]),
        ]

    def changes_of(self, kept: Spec) -> list[str]:
        """Name the measures that are not as they were; an empty radius at the heel is the one at the nut."""
        typed = dict(self.cleaned_data)
        if typed.get("radius_heel") is None:
            typed["radius_heel"] = typed.get("radius_nut")
        return [name for name in Spec.SPEC if typed.get(name) != getattr(kept, name)]

    def clean_radius_by(self) -> str:
        """Take the jig where nothing is said."""
        return self.cleaned_data["radius_by"] or self.instance.radius_by

    @property
    def allowance_fields(self) -> list[forms.BoundField]:
        """Give the allowances, which a form keeps folded away."""
        return [self[name] for name in self.ALLOWANCES]

    @property
    def allowances_wrong(self) -> bool:
        """Tell whether one of them has to be looked at."""
        return any(field.errors for field in self.allowance_fields)

    def clean(self) -> dict[str, Any]:
        """Ask about what is seldom meant."""
        cleaned = super().clean() or self.cleaned_data
        for name, (low, high, what) in _USUAL.items():
            self.ask_outside(name, low, high, what)
        for name, what in (("scale", "Scale"), ("bass_scale", "Bass scale")):
            scale = cleaned.get(name)
            if scale is not None and not any(low <= scale <= high for low, high in _USUAL_SCALES):
                ranges = " or ".join(f"{self.length(low)} to {self.length(high)}" for low, high in _USUAL_SCALES)
                self.ask(name, scale, f"{what} {self.length(scale)}: usual is {ranges}.")
        frets = cleaned.get("frets")
        if frets is not None and not _USUAL_FRETS[0] <= frets <= _USUAL_FRETS[1]:
            self.ask("frets", frets, f"{frets} frets: usual is {_USUAL_FRETS[0]} to {_USUAL_FRETS[1]}.")
        nut, heel = cleaned.get("nut_width"), cleaned.get("heel_width")
        if nut is not None and heel is not None and heel < nut:
            self.ask("heel_width", f"{heel}<{nut}", "The heel is narrower than the nut.")
        return cleaned


class PatternForm(SpecForm):
    """A pattern with its spec."""

    class Meta:
        model = Pattern
        fields = ("name", "boards_a_year", "remarks", *Spec.SPEC)
        widgets = {"remarks": forms.Textarea(attrs={"rows": 2})}

    IDENTITY = ("name", "boards_a_year", "remarks")

    def clean_boards_a_year(self) -> int:
        """Take none where nothing is said."""
        return self.cleaned_data["boards_a_year"] or 0

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["boards_a_year"].required = False
        self.fields["boards_a_year"].widget.attrs["inputmode"] = "numeric"

    def clean(self) -> dict[str, Any]:
        """Refuse to change a spec under boards that are cut by it."""
        cleaned = super().clean()
        if self.instance.pk is None or self.errors:
            return cleaned
        kept = Pattern.objects.get(pk=self.instance.pk)
        changed = self.changes_of(kept)
        if changed and (blank := next((blank for blank in self.instance.blanks.not_scrapped() if blank.done), None)):
            self.add_error(
                changed[0], f"{blank.number} is in work by this pattern. Make a new pattern beside it instead."
            )
        return cleaned
