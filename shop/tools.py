"""Cutters and sanding blocks."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from geometry.checks import check_figure
from geometry.measuring import check_cutter
from shop.forms import ShopForm
from shop.models import Cutter, Hand, SandingBlock
from shop.presses import carry_out, claim, save_single, seen_version


class ToolForm(ShopForm, forms.ModelForm):
    """Something with a name that no other of its kind has."""

    def clean_name(self) -> str:
        """Keep names single, however they are written."""
        name, model = self.cleaned_data["name"], type(self.instance)
        if model.objects.filter(name__iexact=name).exclude(pk=self.instance.pk).exists():
            raise ValidationError(f"There is a {model._meta.verbose_name} {name} already.")
        return name

    def columns(self, hand: Hand) -> set[str]:
        """Name what a change of a kept tool writes."""
        return set(self.Meta.fields)


class CutterForm(ToolForm):
    """A cutter."""

    class Meta:
        model = Cutter
        fields = ("name", "diameter", "max_depth", "sharpened_on", "minutes_since_sharpening", "remarks")
        widgets = {
            "sharpened_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "remarks": forms.Textarea(attrs={"rows": 2}),
        }

    MEASURED = ("diameter", "max_depth")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in self.MEASURED:
            self.fields[name].allow_zero = False
        # The jig goes on counting while the page is open: whether somebody typed other minutes is told by those shown.
        self.fields["minutes_since_sharpening"].show_hidden_initial = True

    def clean_sharpened_on(self) -> date | None:
        """Refuse days that cannot be meant."""
        day = self.cleaned_data["sharpened_on"]
        if day is not None and (day > timezone.localdate() or day.year < 1900):
            raise ValidationError("That day is not one on which it can have been sharpened.")
        return day

    def clean(self) -> dict[str, Any]:
        """Refuse a cutter that geometry cannot work with, and ask about what is seldom meant."""
        cleaned = super().clean() or self.cleaned_data
        if all(cleaned.get(name) is not None for name in self.MEASURED):
            cutter = Cutter(diameter=cleaned["diameter"], max_depth=cleaned["max_depth"])
            for problem in check_cutter(cutter.as_request(), self.shop.style):
                self.add_error(problem.field, problem.message)
        self.ask_outside("diameter", 12, 32, "Diameter")  # common practice, no source
        return cleaned

    def columns(self, hand: Hand) -> set[str]:
        """Leave the minutes to the jig, which may have counted on, unless somebody has typed others."""
        if "minutes_since_sharpening" not in self.changed_data:
            return super().columns(hand) - {"minutes_since_sharpening"}
        self.instance.counts_since = hand.at
        return super().columns(hand) | {"counts_since"}


class BlockForm(ToolForm):
    """A sanding block."""

    class Meta:
        model = SandingBlock
        fields = ("name", "radius", "length", "count", "place")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("radius", "length"):
            self.fields[name].allow_zero = False

    def clean_radius(self) -> Any:
        """Refuse a radius that no board has."""
        radius = self.cleaned_data["radius"]
        if radius is not None and (problem := check_figure("board.radius", float(radius), self.shop.style)):
            raise ValidationError(problem.message)
        return radius


def cutter(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Add a cutter, or change one."""
    instance = get_object_or_404(Cutter, pk=pk) if pk else Cutter()
    return _tool(
        request, CutterForm(request.POST or None, instance=instance, shop=request.shop), "shop/cutter_form.html"
    )


def block(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Add a sanding block, or change one."""
    instance = get_object_or_404(SandingBlock, pk=pk) if pk else SandingBlock()
    form = BlockForm(request.POST or None, instance=instance, shop=request.shop)
    return _tool(request, form, "shop/block_form.html")


def _tool(request: HttpRequest, form: ToolForm, template: str) -> HttpResponse:
    if request.method == "POST":
        seen = seen_version(request) if form.instance.pk else 0
        if form.is_valid() or seen != form.instance.version:
            return carry_out(request, lambda hand: _keep(form, hand, seen), said=f"{form.instance} is kept.", form=form)
    context = {"form": form, "section": "kit"}
    return render(request, template, context, status=422 if form.is_bound else 200)


def _keep(form: ToolForm, hand: Hand, seen: int) -> str:
    tool = form.instance
    columns = None
    if tool.pk:
        claim(tool, seen)
        columns = form.columns(hand)
    save_single(tool, f"There is a {tool._meta.verbose_name} {tool} already.", columns)
    return reverse("shop:kit")


@require_POST
def sharpen(request: HttpRequest, pk: int) -> HttpResponse:
    """Write down that a cutter is sharp again."""
    this, seen = get_object_or_404(Cutter, pk=pk), seen_version(request)

    def do(hand: Hand) -> str:
        claim(this, seen)
        this.sharpen(hand.at)
        return reverse("shop:cutter", args=[this.pk])

    return carry_out(request, do, said=f"{this} is sharp, and its minutes count from nothing.")
