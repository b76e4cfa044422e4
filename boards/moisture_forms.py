"""What people type when they read moisture: of one blank, or of many with a box beside each."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Q
from django.utils import timezone
from django.utils.formats import date_format

from boards.intake import USUAL_MOISTURE
from boards.models import Blank, MoistureReading
from boards.models.moisture import Way
from shop.forms import ShopForm, speak_plainly

A_JUMP = Decimal(3)  # % moisture, or of the weight, that a blank does not change by from one reading to the next
MORE = 4  # boxes for blanks that are not on the page


class Figure(forms.DecimalField):
    """A figure as a meter or scales show it, with a point or a comma, with its unit or without."""

    def __init__(self, *, unit: str, decimals: int, most: int, **kwargs: Any) -> None:
        self.unit = unit
        super().__init__(
            max_digits=len(str(most)) + decimals, decimal_places=decimals, min_value=0, max_value=most, **kwargs
        )
        self.widget = forms.TextInput(
            attrs={
                "inputmode": "decimal",
                "autocomplete": "off",
                "class": "figure",
                "data-reading": "",
                "maxlength": 20,
            }
        )

    def to_python(self, value: Any) -> Decimal | None:
        """Read a comma as a point, and take the unit off."""
        if isinstance(value, str):
            value = value.strip().removesuffix(self.unit).strip()
            value = value.replace(",", ".") if value.count(",") == 1 and "." not in value else value
        return super().to_python(value)


def percent_box(**kwargs: Any) -> Figure:
    """Make a box for what a meter shows."""
    return Figure(unit="%", decimals=1, most=200, **kwargs)


def grams_box(**kwargs: Any) -> Figure:
    """Make a box for what scales show."""
    return Figure(unit="g", decimals=2, most=99_999, **kwargs)


class AsksAboutJumps(ShopForm):
    """Mixin for forms that take readings: asks about those that look like a slip."""

    def ask_about(self, box: str, blank: Blank, percent: Decimal | None, grams: Decimal | None) -> None:
        """Hold a reading against what is usual and against the last one of its kind."""
        low, high = USUAL_MOISTURE
        last = self.last.get(blank.pk)
        if percent is not None and not low <= percent <= high:
            self.ask(box, percent, f"{blank.number} reads {percent} %: usual is {low} to {high} %.")
        elif percent is not None and last and last[0] is not None and abs(percent - last[0]) > A_JUMP:
            self.ask(box, percent, f"{blank.number} reads {percent} %, and read {last[0]:.1f} % last.")
        if grams is not None and last and last[1] and abs(grams / last[1] - 1) * 100 > A_JUMP:
            self.ask(box, grams, f"{blank.number} weighs {grams} g, and weighed {last[1].normalize():f} g last.")

    def look_back(self, blanks: Iterable[Blank]) -> None:
        """Fetch what was read of blanks last: moisture and weight, by their ids."""
        self.last: dict[int, tuple[Decimal | None, Decimal | None]] = {b.pk: (b.moisture, None) for b in blanks}
        entries = MoistureReading.objects.filter(blank__in=self.last, taken_back_by=None).order_by("at", "pk")
        for pk, percent, grams in entries.exclude(way=Way.BACK).values_list("blank_id", "percent", "grams"):
            before = self.last[pk]
            self.last[pk] = (before[0] if percent is None else percent, before[1] if grams is None else grams)


class OneReadingForm(AsksAboutJumps, forms.Form):
    """What was read of one blank: by meter, by weight, or both, which makes the weight tell moisture from then on."""

    percent = percent_box(label="Meter", required=False, help_text="Corrected as the meter's manual says.")
    grams = grams_box(label="Weight", required=False, help_text="Both: later weights tell moisture.")
    dry = forms.BooleanField(
        label="That is its oven-dry weight", required=False, help_text="Worked out from an offcut dried in the oven."
    )
    on = forms.DateField(label="Read on", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    remark = forms.CharField(label="Remark", required=False, max_length=120)

    def __init__(self, *args: Any, blank: Blank, today: date, **kwargs: Any) -> None:
        self.blank, self.today = blank, today
        super().__init__(*args, initial={"on": today}, prefix="moisture", **kwargs)

    def clean_on(self) -> date:
        """Refuse days on which it cannot have been read."""
        day = self.cleaned_data["on"]
        if day > self.today:
            raise forms.ValidationError("That day is still to come.")
        if day < self.blank.received_on:
            raise forms.ValidationError(f"It came in on {date_format(self.blank.received_on)}.")
        return day

    def clean(self) -> dict[str, Any]:
        """Take what makes a reading, and ask about what looks like a slip."""
        cleaned = super().clean() or self.cleaned_data
        percent, grams = cleaned.get("percent"), cleaned.get("grams")
        if grams == 0:
            self.add_error("grams", "It cannot be zero.")
        elif cleaned.get("dry") and "grams" not in self.errors:
            if grams is None:
                self.add_error("grams", "Say what it weighs dry.")
            elif percent is not None:
                self.add_error("percent", "Oven-dry wood holds nothing: leave this empty.")
        elif percent is None and grams is None and not self.errors:
            self.add_error("percent", "Fill in what the meter shows, or the weight.")
        if not self.errors and not cleaned["dry"]:
            self.look_back([self.blank])
            self.ask_about("percent", self.blank, percent, grams)
        return cleaned

    @property
    def reading(self) -> dict[str, Any]:
        """Give the reading as it is kept."""
        typed = self.cleaned_data
        way = Way.DRY if typed["dry"] else Way.WEIGHT if typed["percent"] is None else Way.METER
        return {"way": way, "percent": typed["percent"], "grams": typed["grams"], "remark": typed["remark"]}

    def at(self, now: datetime) -> datetime:
        """Give the moment: now if it is of today, else the middle of its day."""
        day = self.cleaned_data["on"]
        return now if day == timezone.localdate(now) else timezone.make_aware(datetime.combine(day, time(12)))


class ManyReadingsForm(AsksAboutJumps, forms.Form):
    """Readings of many blanks in one go: a box for each that is shown, and a few for others by their number."""

    way = forms.ChoiceField(
        label="These are",
        choices=[(Way.METER, "% by the meter"), (Way.WEIGHT, "grams by the scales")],
        initial=Way.METER,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, blanks: Iterable[Blank], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.blanks = {f"b{blank.pk}": blank for blank in blanks}
        weighed = self.data.get("way") == Way.WEIGHT
        box = grams_box if weighed else percent_box
        for name, blank in self.blanks.items():
            self.fields[name] = box(label=blank.number, required=False)
        for place in range(MORE):
            self.fields[f"n{place}"] = forms.CharField(label="Number", required=False, max_length=24)
            self.fields[f"n{place}"].widget.attrs.update(
                {"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false", "data-reading": ""}
            )
            self.fields[f"v{place}"] = box(label="Reads", required=False)
        for field in self.fields.values():
            speak_plainly(field)

    def others(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """Give the boxes for blanks that are not shown: number and reading."""
        return [(self[f"n{place}"], self[f"v{place}"]) for place in range(MORE)]

    def clean(self) -> dict[str, Any]:
        """Find the blanks that were named, and ask about what looks like a slip."""
        cleaned = super().clean() or self.cleaned_data
        found = {blank: (name, cleaned[name]) for name, blank in self.blanks.items() if cleaned.get(name) is not None}
        typed = [cleaned.get(f"n{place}") for place in range(MORE)]
        anyhow = Q(pk=None)
        for number in filter(None, typed):
            anyhow |= Q(number__iexact=number)
        named = {blank.number.lower(): blank for blank in Blank.objects.filter(anyhow)} if any(typed) else {}
        for place, number in enumerate(typed):
            value, blank = cleaned.get(f"v{place}"), named.get((number or "").lower())
            if number and blank is None:
                self.add_error(f"n{place}", f"There is no blank {number}.")
            elif number and value is None and f"v{place}" not in self.errors:
                self.add_error(f"v{place}", "Fill in what it reads.")
            elif value is not None and not number and f"n{place}" not in self.errors:
                self.add_error(f"n{place}", "Say which blank that is.")
            elif blank is not None and value is not None:
                if blank in found:
                    self.add_error(f"n{place}", f"{blank.number} stands above already.")
                found[blank] = (f"v{place}", value)
        for name, value in found.values():
            if value == 0 and cleaned.get("way") == Way.WEIGHT:
                self.add_error(name, "It cannot be zero.")
        if not found and not self.errors:
            raise forms.ValidationError("No reading is filled in.")
        self.found = {blank: value for blank, (_, value) in found.items()}
        if not self.errors:
            self.look_back(found)
            for blank, (name, value) in found.items():
                weighed = cleaned["way"] == Way.WEIGHT
                self.ask_about(name, blank, None if weighed else value, value if weighed else None)
        return cleaned

    @property
    def readings(self) -> list[tuple[Blank, dict[str, Any]]]:
        """Give the readings as they are kept."""
        way = self.cleaned_data["way"]
        column = "grams" if way == Way.WEIGHT else "percent"
        return [(blank, {"way": way, column: value}) for blank, value in self.found.items()]
