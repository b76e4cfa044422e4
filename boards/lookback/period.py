"""The days that a page looks back over."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from urllib.parse import urlencode

from django import forms
from django.utils import timezone

from shop.forms import PlainWords

LONGEST = 366  # days: what a page can show of a large shop without making anybody wait
EARLIEST = date(1990, 1, 1)


@dataclass(frozen=True, slots=True)
class Period:
    """Days, the first and the last included."""

    first: date
    last: date

    @classmethod
    def until(cls, last: date, days: int) -> Period:
        """Take so many days up to one."""
        return cls(last - timedelta(days=days - 1), last)

    @property
    def begins(self) -> datetime:
        """When the first day begins."""
        return timezone.make_aware(datetime.combine(self.first, time()))

    @property
    def ends(self) -> datetime:
        """When the last day is over."""
        return timezone.make_aware(datetime.combine(self.last + timedelta(days=1), time()))

    @property
    def query(self) -> str:
        """Write it as addresses have it."""
        return urlencode({"since": self.first.isoformat(), "until": self.last.isoformat()})


class PeriodForm(PlainWords, forms.Form):
    """Which days to look at. Nothing asked: so many days up to today."""

    is_search = True

    since = forms.DateField(
        label="From", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    until = forms.DateField(
        label="Until", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, data: Any, *, today: date, days: int, **kwargs: Any) -> None:
        self.usual = Period.until(today, days)
        asked = {name: data.get(name) for name in self.base_fields if data.get(name)}
        start = {"since": self.usual.first.isoformat(), "until": self.usual.last.isoformat()}
        super().__init__({**start, **asked}, **kwargs)

    def clean(self) -> dict[str, Any]:
        """Refuse days that are none of a period."""
        cleaned = super().clean() or self.cleaned_data
        since, until = cleaned.get("since"), cleaned.get("until")
        for name, day in (("since", since), ("until", until)):
            if day and not EARLIEST <= day <= self.usual.last + timedelta(days=366):
                self.add_error(name, "That is no day that could be looked back at.")
        if since and until and not self.errors:
            if until < since:
                self.add_error("until", "That is before the first day.")
            elif (until - since).days >= LONGEST:
                self.add_error("since", "A year at most is looked at in one go. Choose a later day.")
        return cleaned

    @property
    def period(self) -> Period:
        """The days that were asked for; the usual ones where they cannot be meant."""
        if not self.is_valid():
            return self.usual
        return Period(self.cleaned_data["since"], self.cleaned_data["until"])
