"""Stock from a file, step by step: hand it in, point its columns out, look at what it gives, take it in."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from boards.models import StockFile
from boards.stock.columns import Reading, fingerprint_of
from boards.stock.forms import FileForm, ReadingForm, TakeForm, WoodsForm
from boards.stock.rows import MOST_WOODS, Found, left_out_csv
from boards.stock.taking import first_reading, found_in, guessed, sheet_of, take_in
from shop.csvfiles import BrokenFile, decode
from shop.fields import unit_of
from shop.models import Hand, Series
from shop.presses import carry_out, claim, seen_version

SHOWN, SHOWN_WRONG = 12, 60  # rows on the page; the file of those left out has all
LAST_FILES = 6


def get_file(request: HttpRequest, pk: int) -> StockFile:
    """Fetch a file of the person who asks; another's is as if it were not there."""
    file = StockFile.objects.filter(pk=pk, by=request.user).first()
    if file is None:
        raise Http404("There is no such file any more. Hand it in again.")
    return file


def hand_in(request: HttpRequest) -> HttpResponse:
    """Hand a file in."""
    form = FileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        file = form.cleaned_data["file"]
        content = file.read()
        try:
            reading = first_reading(content, unit_of(request.shop.style).value)
        except BrokenFile as broken:
            form.add_error("file", str(broken))
        else:
            name = (file.name or "").replace("\x00", "")[-120:] or "a file"
            return carry_out(request, lambda hand: _keep(name, content, reading, hand), form=form)
    context = {
        "form": form,
        "files": StockFile.objects.filter(by=request.user).defer("content", "rows_left_out")[:LAST_FILES],
        "section": "rack",
    }
    return render(request, "boards/stock_hand_in.html", context, status=422 if request.method == "POST" else 200)


def _keep(name: str, content: bytes, reading: Reading, hand: Hand) -> str:
    StockFile.forget_old(hand.at)
    file = StockFile(name=name, by=hand.by, at=hand.at, content=content, reading=reading.as_json())
    file.fingerprint = hashlib.sha256(content).hexdigest()
    sheet, _ = sheet_of(file)
    file.heads = fingerprint_of(sheet.heads)
    known = StockFile.objects.filter(heads=file.heads).exclude(taken_at=None).order_by("-taken_at").first()
    if known is not None:  # columns that were pointed out once
        before = Reading.of_json(known.reading)
        same = {name: getattr(before, name) for name in ("decimal", "days", "columns", "units")}
        rest = {name: said for name, said in before.rest.items() if name in ("species", "cut")}
        file.reading, file.woods = replace(reading, **same, rest=rest).as_json(), known.woods
    file.save()
    return reverse("boards:stock-file", args=[file.pk])


def stock_file(request: HttpRequest, pk: int) -> HttpResponse:
    """Point the columns of a file out; once it is taken in, say what became of it."""
    file = get_file(request, pk)
    if file.taken_at:
        first = file.rows.select_related("blank").first()
        return render(request, "boards/stock_taken.html", {"file": file, "first": first, "section": "rack"})
    sheet, reading = sheet_of(file)
    form = ReadingForm(request.POST or None, sheet=sheet, reading=reading, today=timezone.localdate())
    if request.method == "POST":
        seen = seen_version(request)
        if form.is_valid():
            try:
                chosen = _chosen(file, form, request)
            except BrokenFile as broken:
                form.add_error(None, str(broken))
            else:
                onward = "boards:stock-file" if form.shape_changed else "boards:stock-check"
                return carry_out(request, lambda _hand: _point_out(file, chosen, seen, onward), form=form)
    context = {
        "file": file,
        "form": form,
        "rows": len(sheet.records),
        "earlier": _earlier(file),
        "known": _known(file),
        "section": "rack",
    }
    return render(request, "boards/stock_columns.html", context, status=422 if form.is_bound else 200)


def _chosen(file: StockFile, form: ReadingForm, request: HttpRequest) -> Reading:
    """Give the reading that was chosen; where the file falls into other cells now, its columns are guessed afresh."""
    if not form.shape_changed:
        return form.chosen()
    said = form.cleaned_data
    text = decode(bytes(file.content), said["encoding"])
    return guessed(text, said["encoding"], said["delimiter"], unit_of(request.shop.style).value, said["head"])


def _point_out(file: StockFile, reading: Reading, seen: int, onward: str) -> str:
    claim(file, seen, known_as="how this file is read")
    file.reading = reading.as_json()
    file.heads = fingerprint_of(sheet_of(file)[0].heads)
    file.save(update_fields=["reading", "heads"])
    return reverse(onward, args=[file.pk])


def _earlier(file: StockFile) -> StockFile | None:
    """Find the same file, taken in before."""
    same = StockFile.objects.filter(fingerprint=file.fingerprint).exclude(taken_at=None)
    return same.select_related("by").defer("content", "rows_left_out").first()


def _known(file: StockFile) -> bool:
    return StockFile.objects.filter(heads=file.heads).exclude(taken_at=None).exists()


def check(request: HttpRequest, pk: int) -> HttpResponse:
    """Look at what a file gives, say which woods are meant, and take it in."""
    file = get_file(request, pk)
    if file.taken_at:
        return redirect("boards:stock-file", pk=file.pk)
    found = found_in(file, timezone.localdate())
    if found.missing:
        return redirect("boards:stock-file", pk=file.pk)
    posted = request.POST if request.method == "POST" else None
    form = TakeForm(posted, found=found, shop=request.shop, initial={"which": "good" if found.wrong else "all"})
    if posted is not None:
        seen = seen_version(request)
        if form.is_valid() or seen != file.version:
            return carry_out(request, lambda hand: _take(file, form, seen, hand), form=form)
    return _check_page(request, file, found, form, status=422 if posted is not None else 200)


def _check_page(
    request: HttpRequest, file: StockFile, found: Found, form: TakeForm, status: int, woods: WoodsForm | None = None
) -> HttpResponse:
    context: dict[str, Any] = {
        "file": file,
        "found": found,
        "shown": found.good[:SHOWN],
        "wrong": (wrong := [row for row in found.wrong if not row.only_asks])[:SHOWN_WRONG],
        "all_wrong": len(wrong),
        "here": found.here[:SHOWN],
        "form": form,
        "woods": woods or (WoodsForm(found=found, woods=file.woods) if len(found.woods) <= MOST_WOODS else None),
        "next_number": Series.peek(Series.Kind.BLANK, timezone.localdate()),
        "today": timezone.localdate(),
        "earlier": _earlier(file),
        "section": "rack",
    }
    return render(request, "boards/stock_check.html", context, status=status)


def _take(file: StockFile, form: TakeForm, seen: int, hand: Hand) -> str:
    claim(file, seen, known_as="how this file is read")
    today = timezone.localdate(hand.at)
    found = found_in(file, today)  # once more, where nobody else can take the same numbers meanwhile
    take_in(file, found, good_only=form.cleaned_data["which"] == "good", hand=hand, today=today)
    return reverse("boards:stock-file", args=[file.pk])


@require_POST
def say_woods(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep which woods are meant."""
    file, seen = get_file(request, pk), seen_version(request)
    if file.taken_at:
        return redirect("boards:stock-file", pk=file.pk)
    found = found_in(file, timezone.localdate())
    form = WoodsForm(request.POST, found=found, woods=file.woods)
    if not form.is_valid():
        return _check_page(request, file, found, TakeForm(found=found, shop=request.shop), 422, form)

    def do(_hand: Hand) -> str:
        claim(file, seen, known_as="how this file is read")
        file.woods = {**file.woods, **form.chosen()}
        file.save(update_fields=["woods"])
        return reverse("boards:stock-check", args=[file.pk])

    return carry_out(request, do, form=form)


@require_GET
def left_out(request: HttpRequest, pk: int) -> HttpResponse:
    """Hand out the rows that are left out, each with the reason, to be mended and handed in again."""
    file = get_file(request, pk)
    if file.taken_at:
        text = file.rows_left_out
    else:
        sheet, reading = sheet_of(file)
        text = left_out_csv(sheet.heads, found_in(file, timezone.localdate()).wrong, reading.delimiter)
    response = HttpResponse("\ufeff" + text, content_type="text/csv; charset=utf-8")
    response.headers["Content-Disposition"] = 'attachment; filename="left-out.csv"'
    response.headers["Cache-Control"] = "no-store"
    return response
