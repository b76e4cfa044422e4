"""The shop's air: its chart and table against the shop's band, and a reading typed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django import forms
from django.db.models import Avg, Max, Min
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from geometry.moisture import equilibrium
from shop.csvfiles import BrokenFile
from shop.forms import PlainWords, ShopForm
from shop.logger import MOST_BYTES, decoded, table_of
from shop.models import Hand, Refused, Shop
from shop.models.air import AirFile, AirReading
from shop.presses import carry_out

SPANS = {"14": "Two weeks", "60": "Two months", "365": "A year"}
USUAL_CELSIUS, USUAL_HUMIDITY = (10, 32), (25, 75)  # outside them it is asked (common practice, no source)


@dataclass(frozen=True, slots=True)
class Day:
    """The air of one day: means, and the least and most of its humidity."""

    day: date
    temperature: float
    humidity: float
    least: float
    most: float
    emc: float


class AirForm(ShopForm, forms.Form):
    """One reading of the air, typed."""

    temperature = forms.DecimalField(max_digits=4, decimal_places=1, widget=forms.TextInput)
    unit = forms.ChoiceField(label="In", choices=[("c", "°C"), ("f", "°F")], initial="c")
    humidity = forms.DecimalField(
        label="Humidity, %", max_digits=4, decimal_places=1, min_value=0, max_value=100, widget=forms.TextInput
    )
    at = forms.DateTimeField(
        label="Read at",
        required=False,
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        help_text="Empty: now.",
    )

    def __init__(self, data: Any = None, *args: Any, now: datetime, **kwargs: Any) -> None:
        self.now = now
        if data is not None:
            data = data.copy()
            for name in ("temperature", "humidity"):  # a comma is a point
                data[name] = data.get(name, "").strip().replace(",", ".")
        super().__init__(data, *args, **kwargs)
        for name in ("temperature", "humidity"):
            self.fields[name].widget.attrs.update({"inputmode": "decimal", "autocomplete": "off", "class": "figure"})
        self.fields["at"].error_messages["invalid"] = "That is not a day with a time."

    def clean_at(self) -> datetime:
        """Refuse moments at which nobody has read it."""
        at = self.cleaned_data["at"] or self.now
        if at > self.now + timedelta(minutes=5):
            raise forms.ValidationError("That is still to come.")
        if at < self.now - timedelta(days=3660):
            raise forms.ValidationError("That is more than ten years ago.")
        return at.replace(second=0, microsecond=0)

    def clean(self) -> dict[str, Any]:
        """Read degrees as they were meant, and ask about air that nobody works in."""
        cleaned = super().clean() or self.cleaned_data
        degrees = cleaned.get("temperature")
        if degrees is not None:
            self.celsius = float(degrees) if cleaned.get("unit") != "f" else (float(degrees) - 32) / 1.8
            if not -30 <= self.celsius <= 60:
                self.add_error("temperature", "No shop is that warm." if self.celsius > 0 else "No shop is that cold.")
            elif not USUAL_CELSIUS[0] <= self.celsius <= USUAL_CELSIUS[1]:
                self.ask("temperature", degrees, f"{self.celsius:.0f} °C: usual is {USUAL_CELSIUS[0]} to 32 °C.")
        humidity = cleaned.get("humidity")
        if humidity is not None and not USUAL_HUMIDITY[0] <= humidity <= USUAL_HUMIDITY[1]:
            low, high = USUAL_HUMIDITY
            self.ask("humidity", humidity, f"A humidity of {humidity:.0f} %: usual is {low} to {high} %.")
        return cleaned


class FileForm(PlainWords, forms.Form):
    """A logger's file."""

    file = forms.FileField(label="A logger's file", help_text="CSV, up to 12 MB. The next page asks for its columns.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].error_messages.update(
            required="Choose a file.", empty="The file is empty.", missing="Choose a file.", invalid="Choose a file."
        )
        self.fields["file"].widget.attrs["accept"] = ".csv,.txt,.tsv,text/csv,text/plain"

    def clean_file(self) -> Any:
        """Refuse what is too large, and what is no table."""
        file = self.cleaned_data["file"]
        if file.size > MOST_BYTES:
            raise forms.ValidationError(f"It is larger than {MOST_BYTES // 1_000_000} MB. Cut it into several files.")
        try:
            self.text = decoded(file.read())
            table_of(self.text)
        except BrokenFile as error:
            raise forms.ValidationError(str(error)) from error
        return file


def air(request: HttpRequest) -> HttpResponse:
    """Show the air day by day against the shop's band, and take a reading."""
    now = timezone.now()
    if request.method != "POST":
        return air_page(request, AirForm(now=now, shop=request.shop))
    form = AirForm(request.POST, now=now, shop=request.shop)
    if not form.is_valid():
        return air_page(request, form, status=422)
    return carry_out(request, lambda hand: _note(form, hand), said="The reading is kept.", form=form)


def _note(form: AirForm, hand: Hand) -> str:
    at = form.cleaned_data["at"]
    if AirReading.objects.standing().filter(at=at).exists():
        raise Refused("The air was read at that minute already.")
    AirReading(
        at=at,
        temperature=round(form.celsius, 2),
        humidity=float(form.cleaned_data["humidity"]),
        by=hand.by,
        written_at=hand.at,
        device=hand.device[:200],
        request_id=hand.request_id,
    ).save()
    return reverse("shop:air")


def air_page(request: HttpRequest, form: AirForm, status: int = 200, file_form: FileForm | None = None) -> HttpResponse:
    """Show the page of the air; its forms may come back with something to mend."""
    span = request.GET.get("days", "")
    span = span if span in SPANS else "14"
    today = timezone.localdate()
    standing = AirReading.objects.standing()
    last = standing.order_by("-at").first()
    shown = _days(today - timedelta(days=int(span) - 1), today)
    context = {
        "form": form,
        "file_form": file_form or FileForm(),
        "days": shown,
        "today": today,
        "span": span,
        "spans": SPANS,
        "last": last,
        "last_emc": float(equilibrium(last.temperature, last.humidity)) if last else None,
        "air": request.shop.air,
        "in_band": in_band(request.shop, shown),
        "band": request.shop.band,
        "files": AirFile.objects.exclude(taken=None).select_related("by")[:12],
        "typed": standing.filter(file=None).select_related("by").order_by("-at")[:6],
        "section": "rack",
    }
    return render(request, "shop/air.html", context, status=status)


def _days(first: date, last: date) -> list[Day]:
    """Sum the air up day by day."""
    rows = AirReading.objects.standing().filter(day__gte=first, day__lte=last).order_by("day").values_list("day")
    found = list(rows.annotate(Avg("temperature"), Avg("humidity"), Min("humidity"), Max("humidity")))
    emc = equilibrium([row[1] for row in found], [min(row[2], 99.9) for row in found]).tolist()
    return [Day(*row, made) for row, made in zip(found, emc, strict=True)]


@require_POST
def take_typed_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Let a typed reading count no more."""
    entry = get_object_or_404(AirReading, pk=pk, file=None)

    def do(hand: Hand) -> str:
        if not AirReading.objects.standing().filter(pk=entry.pk).update(taken_back_at=hand.at):
            raise Refused("Somebody has taken that reading back already.")
        return reverse("shop:air")

    return carry_out(request, do, said="The reading is taken back.")


def in_band(shop: Shop, days: Iterable[Day]) -> str:
    """Say in one line how the air of some days lies in the shop's band."""
    days = list(days)
    inside = sum(shop.humidity_low <= day.humidity <= shop.humidity_high for day in days)
    return f"{inside} of {len(days)} days in the band of {shop.humidity_low} to {shop.humidity_high} %."
