"""The radius jig: its measures, and what stands on it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_GET, require_POST

from shop.forms import PlainWords, ShopForm
from shop.models import Cutter, Former, Hand, Jig, Refused, Shop
from shop.models.jigs import USUAL_THICKNESS
from shop.presses import carry_out, claim, save_single, seen_version

# Outside these a measure is asked about, never refused (common practice, no source). Lengths are mm.
_USUAL = {
    "span": (500, 1500, "Span"),
    "rail_diameter": (6, 40, "Rail diameter"),
    "packing": (0, 2, "Packing"),
}


class JigForm(ShopForm, forms.ModelForm):
    """A jig, measured."""

    class Meta:
        model = Jig
        fields = ("name", "rule_zero", *Jig.MEASURES, *Jig.HOLES, "remarks")
        widgets = {"remarks": forms.Textarea(attrs={"rows": 2})}

    BED = ("name", "span", "end_clearance", "rule_zero")
    RAILS = ("rail_spacing", "rail_diameter", "rail_plane")
    BOARD = ("riser", "packing", "edge_tolerance", "former_margin")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.instance.style = self.shop.style
        for name in ("span", "rail_plane", *Jig.HOLES):
            if name in self.fields:
                self.fields[name].allow_zero = False

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Give the fields in the order in which a jig is measured."""
        return [
            ("The bed", [self[name] for name in self.BED]),
            ("The rails", [self[name] for name in self.RAILS]),
            ("The board on the bed", [self[name] for name in self.BOARD]),
            ("Screw holes of the formers", [self[name] for name in Jig.HOLES]),
            ("Besides", [self["remarks"]]),
        ]

    def clean_name(self) -> str:
        """Keep names single, however they are written."""
        name = self.cleaned_data["name"]
        if Jig.objects.filter(name__iexact=name).exclude(pk=self.instance.pk).exists():
            raise ValidationError(f"There is a jig {name} already.")
        return name

    def clean(self) -> dict[str, Any]:
        """Ask about what is seldom meant."""
        cleaned = super().clean() or self.cleaned_data
        for name, (low, high, what) in _USUAL.items():
            self.ask_outside(name, low, high, what)
        return cleaned


class StandForm(PlainWords, forms.Form):
    """What stands on the jig."""

    head = forms.ModelChoiceField(Former.objects.none(), required=False, empty_label="None")
    heel = forms.ModelChoiceField(Former.objects.none(), required=False, empty_label="None")
    riser = forms.TypedChoiceField(
        choices=[("in", "In"), ("out", "Out")], coerce=lambda value: value == "in", widget=forms.RadioSelect
    )
    cutter = forms.ModelChoiceField(Cutter.objects.all(), required=False, empty_label="None")

    def __init__(self, *args: Any, jig: Jig, **kwargs: Any) -> None:
        self.jig = jig
        initial = {"head": jig.head_former_id, "heel": jig.heel_former_id, "cutter": jig.cutter_id}
        super().__init__(*args, initial={**initial, "riser": "in" if jig.riser_in else "out"}, **kwargs)
        for name in ("head", "heel"):
            self.fields[name].queryset = jig.formers.filter(count__gt=0)
            self.fields[name].label = f"Former at the {name}"

    def clean(self) -> dict[str, Any]:
        """Two of one kind need two pieces."""
        cleaned = super().clean() or self.cleaned_data
        head, heel = cleaned.get("head"), cleaned.get("heel")
        if head is not None and head == heel and head.count < 2:
            self.add_error("heel", f"There is one former {head}. The same at both ends takes two.")
        return cleaned


def get_jig(pk: int) -> Jig:
    """Fetch a jig with what stands on it, or answer that there is none."""
    return get_object_or_404(Jig.objects.select_related("head_former", "heel_former", "cutter", "set_by"), pk=pk)


@require_GET
def jig_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a jig: what stands on it, its formers, its measures, the boards it was tested with."""
    return _jig_page(request, get_jig(pk))


def _jig_page(request: HttpRequest, jig: Jig, form: StandForm | None = None, status: int = 200) -> HttpResponse:
    formers = list(jig.formers.all())
    for former in formers:
        former.jig = jig
    context = {
        "jig": jig,
        "formers": formers,
        "form": form or StandForm(jig=jig),
        "tests": jig.tests.select_related("by")[:6],
        "usual_thickness": USUAL_THICKNESS,
        "in_use": request.shop.jig_id == jig.pk,
        "section": "kit",
    }
    return render(request, "shop/jig.html", context, status=status)


def edit_jig(request: HttpRequest, pk: int) -> HttpResponse:
    """Change the measures of a jig."""
    jig = get_jig(pk)
    form = JigForm(request.POST or None, instance=jig, shop=request.shop)
    if request.method == "POST" and form.is_valid():
        seen = seen_version(request)

        def do(_hand: Hand) -> str:
            claim(jig, seen)
            save_jig(jig)
            return reverse("shop:jig", args=[jig.pk])

        return carry_out(request, do, said=f"The measures of {jig.name} are kept.", form=form)
    seen = request.POST.get("seen") or jig.version
    context = {"form": form, "jig": jig, "seen": seen, "section": "kit"}
    return render(request, "shop/jig_form.html", context, status=422 if form.is_bound else 200)


def save_jig(jig: Jig) -> None:
    """Save a jig; another of that name, kept a moment ago, is told of."""
    save_single(jig, f"There is a jig {jig.name} already.")


@require_POST
def stand(request: HttpRequest, pk: int) -> HttpResponse:
    """Write down what stands on a jig."""
    jig, seen = get_jig(pk), seen_version(request)
    form = StandForm(request.POST, jig=jig)
    if not form.is_valid():
        return _jig_page(request, jig, form, status=422)
    chosen = form.cleaned_data

    def do(hand: Hand) -> str:
        jig.stand(
            hand, seen, head=chosen["head"], heel=chosen["heel"], riser_in=chosen["riser"], cutter=chosen["cutter"]
        )
        # Boards are worked out with the cutter on the jig in use.
        if request.shop.jig_id == jig.pk:
            Shop.work_with(jig=jig, cutter=jig.cutter, at=hand.at)
        return reverse("shop:jig", args=[jig.pk])

    return carry_out(request, do, said=f"What stands on {jig.name} is written down.", form=form)


@require_POST
def use_jig(request: HttpRequest, pk: int) -> HttpResponse:
    """Make a jig the one that boards are worked out with."""
    jig = get_jig(pk)

    def do(hand: Hand) -> str:
        Shop.work_with(jig=jig, cutter=jig.cutter or request.shop.cutter, at=hand.at)
        return reverse("shop:jig", args=[jig.pk])

    return carry_out(request, do, said=f"Boards are worked out with {jig.name} from now on.")


@require_POST
def remove(request: HttpRequest, pk: int, model: type[models.Model]) -> HttpResponse:
    """Take a former or a sanding block out of the kit."""
    thing = get_object_or_404(model, pk=pk)

    def do(_hand: Hand) -> str:
        jig = getattr(thing, "jig", None)
        if jig and thing.pk in (jig.head_former_id, jig.heel_former_id):
            raise Refused(f"Former {thing} stands on {jig}. Take it off first.")
        thing.delete()
        return reverse("shop:jig", args=[jig.pk]) if jig else reverse("shop:kit")

    return carry_out(request, do, said=f"{thing} is taken out of the kit.")
