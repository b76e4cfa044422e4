"""Formers: their radius is typed, or worked out from a chord and the height over it."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from geometry.checks import check_figure
from geometry.surface import radius_spanning
from shop.forms import ShopForm
from shop.jigs import get_jig
from shop.models import Former, Refused
from shop.models.jigs import USUAL_THICKNESS
from shop.presses import carry_out, claim, save_single, seen_version


class FormerForm(ShopForm, forms.ModelForm):
    """A former of a jig."""

    by = forms.ChoiceField(
        label="How its radius is known",
        choices=[("radius", "From its drawing"), ("chord", "Measured: chord and height")],
        widget=forms.RadioSelect,
        initial="radius",
    )

    class Meta:
        model = Former
        fields = ("name", "radius", "chord", "chord_height", "apex", "width", "count", "place", "made_on", "remarks")
        widgets = {
            "made_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "remarks": forms.Textarea(attrs={"rows": 2}),
        }

    CHORD = ("chord", "chord_height")
    SHELF = ("count", "place", "made_on", "remarks")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.style = self.shop.style
        self.kept = (self.instance.radius, self.instance.apex) if self.instance.pk else None
        for name in ("radius", "chord", "chord_height", "apex", "width"):
            self.fields[name].allow_zero = False
        for name in ("radius", *self.CHORD):
            self.fields[name].required = True  # whichever of the two ways is chosen; the other is put away
        if self.instance.chord is not None:
            self.initial.setdefault("by", "chord")
            self.initial["radius"] = None

    @property
    def shelf(self) -> list[forms.BoundField]:
        """Give the fields that are not measured."""
        return [self[name] for name in self.SHELF if name in self.fields]

    def clean_name(self) -> str:
        """Keep names single on one jig, however they are written."""
        name, jig = self.cleaned_data["name"], self.instance.jig
        if jig.pk and jig.formers.filter(name__iexact=name).exclude(pk=self.instance.pk).exists():
            raise ValidationError(f"There is a former {name} on {jig} already. Add to how many there are instead.")
        return name

    def clean_made_on(self) -> date | None:
        """Refuse days that cannot be meant."""
        day = self.cleaned_data["made_on"]
        if day is not None and (day > timezone.localdate() or day.year < 1900):
            raise ValidationError("That day is not one on which it can have been made.")
        return day

    def clean(self) -> dict[str, Any]:
        """Take the radius from where the person says it comes from."""
        cleaned = super().clean() or self.cleaned_data
        measured = cleaned.get("by") == "chord"
        for name in ("radius",) if measured else self.CHORD:
            self.errors.pop(name, None)  # what stands in a box that is put away does not count
            cleaned[name] = None
        if measured:
            cleaned["radius"] = self._radius_over(cleaned)
        return cleaned

    def _radius_over(self, cleaned: dict[str, Any]) -> Decimal | None:
        chord, height = cleaned.get("chord"), cleaned.get("chord_height")
        if chord is None or height is None:
            return None
        if 2 * height > chord:
            self.add_error(
                "chord_height",
                f"It is more than half the chord, {self.length(chord / 2)}: that is more than half round. Measure the "
                "height again, from the two points up to the apex.",
            )
            return None
        radius = float(radius_spanning(float(chord), float(height)))
        if problem := check_figure("formers.radius", radius, self.shop.style):
            self.add_error("chord_height", f"This makes a radius of {self.length(radius)}. {problem.message}")
            return None
        return Decimal(radius).quantize(Decimal("0.000001"))

    def _post_clean(self) -> None:
        """Ask about what was worked out, and about rails that do not lie where those of the others do."""
        super()._post_clean()
        former = self.instance
        if self.cleaned_data.get("by") == "chord" and "radius" in self.errors:  # its box is put away
            self.errors.setdefault("chord_height", self.error_class()).extend(self.errors.pop("radius").data)
        if self.errors or former.radius is None or former.apex is None or self.kept == (former.radius, former.apex):
            return
        if former.chord is not None:
            words = (
                f"A chord of {self.length(former.chord)} and a height of {self.length(former.chord_height)} make a "
                f"radius of {self.length(former.radius)}."
            )
            self.ask(self.add_prefix("radius"), former.radius, words)
        if not former.keeps_the_plane:
            side = "above" if former.off_plane > 0 else "below"
            words = (
                f"On former {former} the rails lie {self.length(abs(former.off_plane))} {side} the jig's rail plane. "
                "Beside a former that keeps to it the apex does not come out level."
            )
            self.ask(self.add_prefix("apex"), former.apex, words)


def former(request: HttpRequest, jig: int, pk: int | None = None) -> HttpResponse:
    """Add a former to a jig, or change one."""
    on = get_jig(jig)
    instance = get_object_or_404(on.formers, pk=pk) if pk else Former()
    instance.jig = on
    form = FormerForm(request.POST or None, instance=instance, shop=request.shop)
    if request.method == "POST" and form.is_valid():
        seen = seen_version(request)
        return carry_out(request, lambda _hand: _save(instance, seen), said=f"Former {instance} is kept.", form=form)
    context = {
        "form": form,
        "jig": on,
        "seen": request.POST.get("seen") or instance.version,
        "section": "kit",
        **preview_of(form),
    }
    return render(request, "shop/former_form.html", context, status=422 if form.is_bound else 200)


def _save(former: Former, seen: int) -> str:
    if former.pk:
        claim(former, seen)
        standing = (former.jig.head_former_id, former.jig.heel_former_id).count(former.pk)
        if former.count < standing:
            raise Refused(f"{standing} of former {former} stand on {former.jig}. Take them off first.")
    save_former(former)
    return reverse("shop:jig", args=[former.jig_id])


def save_former(former: Former) -> None:
    """Save a former; another of that name, kept a moment ago, is told of."""
    save_single(former, f"There is a former {former} on {former.jig} already.")


def preview_of(form: FormerForm) -> dict[str, Any]:
    """Say what a former does as far as it is typed."""
    if form.is_bound and form.errors:
        wrong = [
            f"{form[name].label}: {error.messages[0]}" if name in form.fields else error.messages[0]
            for name, errors in form.errors.as_data().items()
            for error in errors
            if error.code != "required"
        ]
        if wrong:
            return {"trouble": wrong}
    former = form.instance
    if former.radius is None:
        return {}
    return {"former": former, "heights_known": former.apex is not None, "usual_thickness": USUAL_THICKNESS}


@require_POST
def preview(request: HttpRequest, jig: int) -> HttpResponse:
    """Draw what has been typed so far; nothing is kept."""
    on = get_jig(jig)
    form = FormerForm(request.POST, instance=Former(jig=on), shop=request.shop)
    form.fields["name"].required = False
    form.full_clean()
    form.errors.pop("name", None)
    return render(request, "shop/_former_preview.html", {"jig": on, **preview_of(form)})
