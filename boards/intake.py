"""New blanks: a box of them alike in one go, or one by one with the last values kept."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import MinValueValidator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from boards.actions import word_asked
from boards.models import Blank, Cut, receive_box
from shop.forms import ShopForm
from shop.models import Hand, Series, Shop, Species
from shop.presses import carry_out

MOST_IN_A_BOX = 200
LONGEST_AGO = 365 * 50

# Outside these a figure is asked about, never refused (common practice, no source).
USUAL_MM = {"length": (350, 900), "width": (45, 110), "thickness": (5, 13)}
USUAL_MOISTURE = (5, 14)


class IntakeForm(ShopForm, forms.ModelForm):
    """What is written down when stock comes in."""

    how_many = forms.IntegerField(
        label="How many alike",
        min_value=1,
        max_value=MOST_IN_A_BOX,
        initial=1,
        help_text="Each gets a number of its own.",
    )

    class Meta:
        model = Blank
        fields = (
            *("species", "cut", "length", "width", "thickness", "moisture"),
            *("received_on", "supplier", "lot", "cost", "place", "remarks"),
        )
        widgets = {
            "cut": forms.RadioSelect,
            "received_on": forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            "remarks": forms.Textarea(attrs={"rows": 2}),
            "moisture": forms.TextInput(attrs={"inputmode": "decimal"}),
            "cost": forms.TextInput(attrs={"inputmode": "decimal"}),
        }

    def __init__(self, *args: Any, shop: Shop, today: date, **kwargs: Any) -> None:
        self.today = today
        super().__init__(*args, shop=shop, **kwargs)
        self.fields["cut"].choices = Cut.choices
        self.fields["species"].queryset = Species.objects.order_by("name")
        self.fields["species"].empty_label = "Choose the wood"
        for name in ("length", "width", "thickness"):
            self.fields[name].allow_zero = False
        for name in ("moisture", "cost"):
            self.fields[name].validators.append(MinValueValidator(0, "It cannot be negative."))
        self.fields["how_many"].widget.attrs["inputmode"] = "numeric"

    def clean_received_on(self) -> date:
        """Refuse days that cannot be meant."""
        day = self.cleaned_data["received_on"]
        if day > self.today + timedelta(days=1):
            raise forms.ValidationError("That day is still to come.")
        if day < self.today - timedelta(days=LONGEST_AGO):
            raise forms.ValidationError("That is more than fifty years ago.")
        return day

    def clean_moisture(self) -> Decimal | None:
        """Refuse what no meter shows."""
        moisture = self.cleaned_data["moisture"]
        if moisture is not None and moisture > 200:
            raise forms.ValidationError("Wood does not hold more than about 200 %.")
        return moisture

    def clean(self) -> dict[str, Any]:
        """Ask about figures that look like a slip."""
        cleaned = super().clean() or self.cleaned_data
        for name, (low, high) in USUAL_MM.items():
            self.ask_outside(name, low, high, name.capitalize())
        length, width, thickness = (cleaned.get(name) for name in ("length", "width", "thickness"))
        if length and width and width > length:
            self.ask("width", f"{width}>{length}", "The blank is wider than long.")
        if width and thickness and thickness > width:
            self.ask("thickness", f"{thickness}>{width}", "The blank is thicker than wide.")
        moisture = cleaned.get("moisture")
        if moisture is not None and not USUAL_MOISTURE[0] <= moisture <= USUAL_MOISTURE[1]:
            self.ask(
                "moisture", moisture, f"Moisture {moisture} %: usual is {USUAL_MOISTURE[0]} to {USUAL_MOISTURE[1]} %."
            )
        return cleaned


def intake(request: HttpRequest) -> HttpResponse:
    """Log new blanks."""
    today = timezone.localdate()
    if request.method == "POST":
        form = IntakeForm(request.POST, shop=request.shop, today=today)
        if form.is_valid():
            return carry_out(request, lambda hand: _receive(form, hand), form=form)
        return _page(request, form, today, status=422)
    form = IntakeForm(shop=request.shop, today=today, initial=_start_values(request, today))
    return _page(request, form, today)


def _receive(form: IntakeForm, hand: Hand) -> str:
    blanks = receive_box(alike=form.instance, how_many=form.cleaned_data["how_many"], hand=hand)
    return f"{reverse('boards:intake')}?like={blanks[-1].number}&first={blanks[0].number}"


def _start_values(request: HttpRequest, today: date) -> dict[str, Any]:
    """Keep the last values, so that the next blank of the same kind takes one tap."""
    values: dict[str, Any] = {"received_on": today}
    last = Blank.objects.filter(number=word_asked(request, "like", 24)).first()
    if last is not None:
        values.update({name: getattr(last, name) for name in IntakeForm.Meta.fields if name != "remarks"})
    return values


def _page(request: HttpRequest, form: IntakeForm, today: date, status: int = 200) -> HttpResponse:
    first, last = word_asked(request, "first", 24), word_asked(request, "like", 24)
    just_in = Blank.objects.filter(number__in=[first, last], changed_by=request.user).order_by("number")
    context = {
        "form": form,
        "next_number": Series.peek(Series.Kind.BLANK, today),
        "just_in": [blank.number for blank in just_in] if first else [],
        "section": "rack",
    }
    return render(request, "boards/intake.html", context, status=status)
