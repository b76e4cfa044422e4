"""The kit: the shop's habits, its patterns, wires, cutters and woods."""

from __future__ import annotations

from django import forms
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_GET

from shop.addresses import advice_for_phones
from shop.forms import ShopForm
from shop.models import (
    Cutter,
    Former,
    FretWire,
    Hand,
    Jig,
    Pattern,
    Route,
    SandingBlock,
    Series,
    Shop,
    Species,
)
from shop.models.jigs import USUAL_THICKNESS
from shop.presses import carry_out, claim, seen_version


@require_GET
def kit(request: HttpRequest) -> HttpResponse:
    """Show what the shop works with."""
    context = {
        "patterns": Pattern.objects.select_related("wire", "route"),
        "wires": FretWire.objects.all(),
        "jigs": Jig.objects.select_related("head_former", "heel_former"),
        "formers": Former.objects.select_related("jig").order_by("jig__name", "radius", "name"),
        "cutters": Cutter.objects.all(),
        "usual_thickness": USUAL_THICKNESS,
        "blocks": SandingBlock.objects.all(),
        "routes": Route.objects.all(),
        "woods": Species.objects.all(),
        "series": Series.objects.all(),
        "section": "kit",
    }
    return render(request, "shop/kit.html", context)


class ShopSettingsForm(ShopForm, forms.ModelForm):
    """The shop's name and habits."""

    class Meta:
        model = Shop
        fields = (
            *("name", "lengths", "paper", "web_address", "jig", "cutter", "scallop_max"),
            "feed_mm_per_min",
            *Shop.CHANGES,
            *Shop.CLAMPS,
            *Shop.ALLOWANCES,
            *(
                "thickness_tolerance",
                "corner_tolerance",
                "slot_tolerance",
                "width_tolerance",
                "rest_days",
                "horizon_days",
                *Shop.AIR,
                *Shop.SETTLED,
                *("buying_step", "buying_step_thickness", "spoiled_in_hundred"),
            ),
        )
        widgets = {"lengths": forms.RadioSelect, "paper": forms.RadioSelect}

    SHEETS = ("name", "lengths", "paper", "web_address")
    WORK = ("jig", "cutter", "scallop_max", "feed_mm_per_min", "rest_days", "horizon_days")
    BUYING = ("buying_step", "buying_step_thickness", "spoiled_in_hundred")
    TOLERANCES = ("thickness_tolerance", "corner_tolerance", "slot_tolerance", "width_tolerance")

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Give the fields in the order in which they are spoken of."""
        return [
            ("The shop and its sheets", [self[name] for name in self.SHEETS]),
            ("Work", [self[name] for name in self.WORK]),
            ("Minutes to change over (common practice, no source)", [self[name] for name in Shop.CHANGES]),
            ("Gluing", [self[name] for name in Shop.CLAMPS]),
            ("Allowances that a new spec starts from", [self[name] for name in Shop.ALLOWANCES]),
            ("Tolerances", [self[name] for name in self.TOLERANCES]),
            ("The shop's air", [self[name] for name in Shop.AIR]),
            ("When wood is settled", [self[name] for name in Shop.SETTLED]),
            ("Buying blanks", [self[name] for name in self.BUYING]),
        ]


def shop_settings(request: HttpRequest) -> HttpResponse:
    """Change the shop's habits."""
    shop = Shop.current()
    form = ShopSettingsForm(request.POST or None, instance=shop, shop=request.shop)
    if request.method == "POST":
        seen = seen_version(request)
        if form.is_valid() or seen != shop.version:
            return carry_out(
                request, lambda hand: _save_habits(form, hand, seen), said="The shop's habits are kept.", form=form
            )
    advice = advice_for_phones(request.shop.web_address or request.build_absolute_uri("/"))
    form.fields["web_address"].help_text += f" {advice}" if advice else ""
    context = {"form": form, "section": "kit"}
    return render(request, "shop/settings.html", context, status=422 if form.is_bound else 200)


def _save_habits(form: ShopSettingsForm, hand: Hand, seen: int) -> str:
    shop = form.instance
    claim(shop, seen, known_as="the list of habits")
    Shop.work_with(jig=shop.jig, cutter=shop.cutter, at=hand.at)
    # The cutter is on the jig in use, and there once only. Whoever has that jig's page open is told.
    Jig.objects.filter(pk=shop.jig_id).exclude(cutter=shop.cutter).update(cutter=shop.cutter, version=F("version") + 1)
    shop.save(update_fields=form.Meta.fields)
    return reverse("shop:kit")
