"""The forms on a build's page: a note, why it is held or cancelled, when it was delivered."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.utils import timezone

from shop.forms import PlainWords, ShopForm
from shop.models import Build
from shop.stages import STAGES


class WordsForm(PlainWords, forms.Form):
    """A note, or why something is done."""

    text = forms.CharField(label="Why", max_length=2000, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, label: str = "Why", required: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["text"].label, self.fields["text"].required = label, required


class DeliverForm(ShopForm, forms.Form):
    """The day of delivery; asked back where a board is not done."""

    day = forms.DateField(
        label="Delivered on",
        required=False,
        help_text="Empty: today.",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    text = forms.CharField(label="Remark", required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, build: Build, **kwargs: Any) -> None:
        self.build = build
        super().__init__(*args, **kwargs)

    def clean_day(self) -> date:
        """Take today where nothing is said; refuse days that cannot be meant."""
        today = timezone.localdate()
        day = self.cleaned_data["day"] or today
        if not today - timedelta(days=3650) <= day <= today:
            raise ValidationError("That day is still to come." if day > today else "That is more than ten years ago.")
        return day

    def clean(self) -> dict[str, Any]:
        """Ask about boards that are not on their necks."""
        cleaned = super().clean() or self.cleaned_data
        for build in (self.build, *self.build.companions().filter(closed_on=None)):
            if words := undone_words(build):
                self.ask("boards", f"{build.number}: {words}"[:200], f"{words} Deliver {build.number} all the same?")
        return cleaned


def undone_words(build: Build) -> str:
    """Say which boards of a build are not done, or not there; nothing where all are on their necks."""
    blanks = list(build.blanks.not_scrapped())
    waiting = [f"{blank.number} still waits for {_label(blank.next_stage)}" for blank in blanks if blank.next_stage]
    if not blanks:
        waiting.append("no blank is put to it yet")
    elif len(blanks) < build.boards_wanted:
        waiting.append(f"only {len(blanks)} of {build.boards_wanted} blanks are put to it")
    words = "; ".join(waiting)
    return f"{words[:1].upper()}{words[1:]}." if words else ""


def _label(stage: str) -> str:
    return STAGES[stage].label.lower()


def life_forms(request: HttpRequest, build: Build, **bound: forms.Form) -> dict[str, forms.Form]:
    """Give the forms of a build's page, with one that came back in its place."""
    fresh = {
        "note": WordsForm(label="Note", auto_id="note_%s"),
        "hold": WordsForm(label="Why it is held", auto_id="hold_%s"),
        "cancel": WordsForm(label="Why it is cancelled", auto_id="cancel_%s"),
        "deliver": DeliverForm(build=build, shop=request.shop, auto_id="deliver_%s"),
    }
    return fresh | bound
