"""A logger's file on its way in: its columns pointed out once, what was read of it shown, and then taken in."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from shop.air import AirForm, FileForm, air_page
from shop.forms import PlainWords
from shop.logger import ORDERS, Columns, Found, Table, guessed, read, table_of
from shop.models import Hand, Refused
from shop.models.air import AirFile, AirReading, LoggerColumns
from shop.presses import carry_out

SHOWN_BAD = 40
KEPT_WAITING = timedelta(days=2)
A_BATCH = 2000


class ColumnsForm(PlainWords, forms.Form):
    """Which column of a logger's file holds what."""

    when = forms.TypedChoiceField(label="Day", coerce=int, help_text="Or day and time in one.")
    time = forms.TypedChoiceField(label="Time", coerce=int, required=False, empty_value=None)
    temperature = forms.TypedChoiceField(label="Temperature", coerce=int)
    fahrenheit = forms.TypedChoiceField(
        label="In", choices=[("", "°C"), ("yes", "°F")], coerce=bool, required=False, empty_value=False
    )
    humidity = forms.TypedChoiceField(label="Humidity", coerce=int)
    order = forms.ChoiceField(label="Days are written", choices=list(ORDERS.items()))

    def __init__(self, *args: Any, table: Table, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(place, head[:60]) for place, head in enumerate(table.heading)]
        for name in ("when", "temperature", "humidity"):
            self.fields[name].choices = choices
        self.fields["time"].choices = [("", "in the same column"), *choices]

    def clean(self) -> dict[str, Any]:
        """Refuse one column for two things."""
        cleaned = super().clean() or self.cleaned_data
        taken: dict[int, str] = {}
        for name in ("when", "time", "temperature", "humidity"):
            column = cleaned.get(name)
            if column is not None and column in taken:
                self.add_error(name, f"That is the column of the {taken[column]} already.")
            elif column is not None:
                taken[column] = "day" if name == "when" else name
        return cleaned

    @property
    def columns(self) -> Columns:
        """Give them as they are read by."""
        return Columns(**self.cleaned_data)


@require_POST
def send_file(request: HttpRequest) -> HttpResponse:
    """Keep a logger's file until its columns are pointed out."""
    form = FileForm(request.POST, request.FILES)
    if not form.is_valid():
        return air_page(request, AirForm(now=timezone.now(), shop=request.shop), status=422, file_form=form)

    def do(hand: Hand) -> str:
        AirFile.objects.filter(taken=None, at__lt=hand.at - KEPT_WAITING).delete()  # nobody has come back to them
        name = (form.cleaned_data["file"].name or "").replace("\x00", "")[-120:] or "a file"
        file = AirFile.objects.create(name=name, text=form.text, by=hand.by, at=hand.at)
        return reverse("shop:air-file", args=[file.pk])

    return carry_out(request, do)


def file_page(request: HttpRequest, pk: int) -> HttpResponse:
    """Point out the columns of a logger's file, look at what was read, and take it in."""
    file = get_object_or_404(AirFile, pk=pk, taken=None)
    table = table_of(file.text)
    known = LoggerColumns.objects.filter(heading=table.known_as).first()
    start = _kept(known) if known else guessed(table)
    form = ColumnsForm(request.POST or None, table=table, initial=_as_typed(start))
    right = (
        form.is_valid() if form.is_bound else max(start.when, start.temperature, start.humidity) < len(table.heading)
    )
    columns = (form.columns if form.is_bound else start) if right else None
    found = read(table, columns, zone=timezone.get_current_timezone(), now=timezone.now()) if columns else None
    only_look = "look" in request.POST
    if request.method == "POST" and not only_look and found is not None and found.readings:
        words = _said(found)
        return carry_out(request, lambda hand: _take_in(file, table, columns, found, hand), said=words, form=form)
    context = {
        "file": file,
        "table": table,
        "form": form,
        "known": known,
        "found": found,
        "first": found.readings[:6] if found else [],
        "bad": found.bad[:SHOWN_BAD] if found else [],
        "more_bad": max(len(found.bad) - SHOWN_BAD, 0) if found else 0,
        "there": len(_there(found)) if found else 0,
        "section": "rack",
    }
    status = 422 if form.is_bound and not (only_look and right) else 200
    return render(request, "shop/air_file.html", context, status=status)


def _said(found: Found) -> str:
    """Say what taking it in comes to."""
    there = len(_there(found))
    fresh = len(found.readings) - there
    parts = [f"{fresh} reading{'' if fresh == 1 else 's'} taken in"]
    parts += [f"{there} there already"] if there else []
    parts += [f"{len(found.bad)} line{'' if len(found.bad) == 1 else 's'} left out"] if found.bad else []
    return ", ".join(parts) + "."


def _kept(known: LoggerColumns) -> Columns:
    names = ("when", "temperature", "humidity", "time", "fahrenheit", "order")
    return Columns(**{name: getattr(known, name) for name in names})


def _as_typed(columns: Columns) -> dict[str, Any]:
    """Give columns as the form shows them."""
    shown = asdict(columns)
    shown["fahrenheit"] = "yes" if columns.fahrenheit else ""
    return shown


def _there(found: Found) -> set[datetime]:
    """Find the moments of a file at which the air was read already."""
    times = {at for _, at, _, _ in found.readings}
    if not times:
        return set()
    kept = AirReading.objects.standing().filter(at__gte=min(times), at__lte=max(times)).values_list("at", flat=True)
    return times.intersection(kept)


def _take_in(file: AirFile, table: Table, columns: Columns, found: Found, hand: Hand) -> str:
    if AirFile.objects.filter(pk=file.pk).exclude(taken=None).exists():
        raise Refused("Somebody has taken this file in already.")
    there = _there(found)
    zone = timezone.get_current_timezone()
    fresh = [
        AirReading(
            at=at,
            day=at.astimezone(zone).date(),
            temperature=round(temperature, 3),
            humidity=humidity,
            file=file,
            by=hand.by,
            written_at=hand.at,
            request_id=hand.request_id,
        )
        for _, at, temperature, humidity in found.readings
        if at not in there
    ]
    # Another tablet may take in the same moments meanwhile: those are let pass.
    AirReading.objects.bulk_create(fresh, batch_size=A_BATCH, ignore_conflicts=True)
    file.forget_text(AirReading.objects.filter(file=file).count())
    LoggerColumns.objects.update_or_create(heading=table.known_as, defaults=asdict(columns))
    return f"{reverse('shop:air')}?days=60"


@require_POST
def take_file_back(request: HttpRequest, pk: int) -> HttpResponse:
    """Let no reading of a file count any more, as when its unit was wrong."""
    file = get_object_or_404(AirFile.objects.exclude(taken=None), pk=pk)

    def do(hand: Hand) -> str:
        if file.taken_back_at is not None:
            raise Refused("That file is taken back already.")
        file.take_back(hand.at)
        return reverse("shop:air")

    return carry_out(request, do, said=f"{file.name} counts no more.")
