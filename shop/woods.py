"""A wood of the kit: how it moves, where those figures are from, and what to know of its trade and its dust."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from shop.forms import ShopForm
from shop.models import Hand, Species
from shop.presses import carry_out, claim, save_single, seen_version

MOST_MOVEMENT, MOST_SHRINKAGE = Decimal("0.02"), Decimal(30)  # as far as geometry goes; no wood comes near


class WoodForm(ShopForm, forms.ModelForm):
    """A wood with its figures and notes."""

    class Meta:
        model = Species
        fields = (
            *("name", "botanical", "composite"),
            *("c_radial", "c_tangential", "s_radial", "s_tangential", "movement_source", "movement_mark"),
            *("trade_note", "trade_note_on", "dust_note", "dust_note_on"),
        )
        widgets = {
            **dict.fromkeys(("c_radial", "c_tangential", "s_radial", "s_tangential"), forms.TextInput),
            **dict.fromkeys(("trade_note", "dust_note"), forms.Textarea(attrs={"rows": 3})),
            **dict.fromkeys(
                ("trade_note_on", "dust_note_on"), forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
            ),
            "movement_source": forms.Textarea(attrs={"rows": 2}),
        }

    MOVEMENT = ("c_radial", "c_tangential")
    SHRINKAGE = ("s_radial", "s_tangential")

    def __init__(self, data: Any = None, *args: Any, **kwargs: Any) -> None:
        if data is not None:
            data = data.copy()
            for name in (*self.MOVEMENT, *self.SHRINKAGE):  # a comma is a point
                data[name] = data.get(name, "").strip().replace(",", ".")
        super().__init__(data, *args, **kwargs)
        for names, most in ((self.MOVEMENT, MOST_MOVEMENT), (self.SHRINKAGE, MOST_SHRINKAGE)):
            for name in names:
                self.fields[name].widget.attrs.update({"inputmode": "decimal", "class": "figure"})
                self.fields[name].validators += [MinValueValidator(0), MaxValueValidator(most)]

    def clean_name(self) -> str:
        """Keep names single."""
        name = self.cleaned_data["name"]
        if Species.objects.filter(name__iexact=name).exclude(pk=self.instance.pk).exists():
            raise ValidationError(f"There is {name} already.")
        return name

    def clean(self) -> dict[str, Any]:
        """Ask about figures that look changed over, or that nobody could look up."""
        cleaned = super().clean() or self.cleaned_data
        figures = [name for name in (*self.MOVEMENT, *self.SHRINKAGE) if cleaned.get(name) is not None]
        if cleaned.get("composite") and figures:
            self.add_error(figures[0], "A composite does not move: leave these empty.")
        for radial, tangential in (self.MOVEMENT, self.SHRINKAGE):
            least, most = cleaned.get(radial), cleaned.get(tangential)
            if least is not None and most is not None and least > most:
                does = "moves" if radial == "c_radial" else "shrinks"
                words = f"It {does} more radially than tangentially: usual is the other way."
                self.ask(radial, f"{least}>{most}", words)
        if figures and not cleaned.get("movement_source"):
            self.ask("movement_source", len(figures), "Nobody will know where these figures are from.")
        return cleaned


def wood(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Write down a wood, or change one."""
    instance = Species() if pk is None else get_object_or_404(Species, pk=pk)
    form = WoodForm(request.POST or None, instance=instance, shop=request.shop)
    if request.method == "POST":
        seen = seen_version(request) if pk else 0
        if form.is_valid() or seen != instance.version:
            return carry_out(request, lambda hand: _save(form, hand, seen), said=f"{instance.name} is kept.", form=form)
    context = {"form": form, "section": "kit"}
    return render(request, "shop/wood_form.html", context, status=422 if form.is_bound else 200)


def _save(form: WoodForm, hand: Hand, seen: int) -> str:
    if form.instance.pk:
        claim(form.instance, seen)
    save_single(form.instance, f"There is {form.instance.name} already.")
    return reverse("shop:kit")
