"""The page of the shop's hours: its week, its days off, and what stages take."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from shop.forms import PlainWords
from shop.models import DayOff, Hand, Refused, Week
from shop.models.hours import WEEKDAYS
from shop.presses import carry_out, claim, seen_version


class WeekForm(PlainWords, forms.ModelForm):
    """The shop's week."""

    weekdays = forms.TypedMultipleChoiceField(
        label="Days worked", coerce=int, choices=list(enumerate(WEEKDAYS)), widget=forms.CheckboxSelectMultiple
    )

    class Meta:
        model = Week
        fields = (
            *("weekdays", "opens_at", "break_from", "break_until", "closes_at", "hands"),
            *("thicknessing_minutes", "slotting_minutes", "radiusing_minutes", "tapering_minutes", "gluing_minutes"),
            "cure_hours",
            *Week.RATES,
        )
        times = ("opens_at", "break_from", "break_until", "closes_at")
        widgets = {name: forms.TimeInput(attrs={"type": "time"}, format="%H:%M") for name in times}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in Week.RATES[1:]:
            self.fields[name].widget.attrs["inputmode"] = "decimal"
        for name in self.Meta.times:
            self.fields[name].error_messages["invalid"] = "That is no time of day. Write it like 8:30."

    def part(self, *names: str) -> list[forms.BoundField]:
        """Give some of its boxes."""
        return [self[name] for name in names]

    @property
    def of_the_day(self) -> list[forms.BoundField]:
        """The boxes of a day's times and of who works."""
        return self.part("opens_at", "break_from", "break_until", "closes_at", "hands")

    @property
    def of_stages(self) -> list[forms.BoundField]:
        """The boxes of what stages take."""
        return [self[name] for name in self.Meta.fields if name.endswith("_minutes")] + [self["cure_hours"]]

    @property
    def of_money(self) -> list[forms.BoundField]:
        """The boxes of what an hour costs."""
        return self.part(*Week.RATES)


class DayOffForm(PlainWords, forms.ModelForm):
    """Days off to come."""

    class Meta:
        model = DayOff
        fields = ("first", "last", "why")
        widgets = {
            name: forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d") for name in ("first", "last")
        }  # fmt: skip


def hours(request: HttpRequest) -> HttpResponse:
    """Show the shop's hours, and change them."""
    week = Week.current()
    if request.method != "POST":
        return _page(request, WeekForm(instance=week), DayOffForm())
    form, seen = WeekForm(request.POST, instance=week), seen_version(request)
    if not form.is_valid():
        return _page(request, form, DayOffForm(), status=422)

    def do(_hand: Hand) -> str:
        Week.objects.get_or_create(pk=1)
        claim(week, seen, known_as="the shop's hours")
        form.save()
        return reverse("shop:hours")

    return carry_out(request, do, said="The hours are kept.", form=form)


@require_POST
def add_days_off(request: HttpRequest) -> HttpResponse:
    """Write days off down."""
    form = DayOffForm(request.POST)
    if not form.is_valid():
        return _page(request, WeekForm(instance=Week.current()), form, status=422)

    def do(_hand: Hand) -> str:
        form.save()
        return reverse("shop:hours")

    return carry_out(request, do, said="The days off are noted.", form=form)


@require_POST
def drop_days_off(request: HttpRequest, pk: int) -> HttpResponse:
    """Strike days off out again."""

    def do(_hand: Hand) -> str:
        if not DayOff.objects.filter(pk=pk).delete()[0]:
            raise Refused("Those days off are struck out already.")
        return reverse("shop:hours")

    return carry_out(request, do, said="The days off are struck out.")


def _page(request: HttpRequest, form: WeekForm, off: DayOffForm, status: int = 200) -> HttpResponse:
    context = {
        "form": form,
        "week": Week.current(),
        "off_form": off,
        "days_off": DayOff.objects.filter(last__gte=timezone.localdate()),
        "section": "kit",
    }
    return render(request, "shop/hours.html", context, status=status)
