"""Sheets of labels in the kit: measured, changed, nudged for a printer that is off, taken out."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from shop.drawings.label_sheet import draw_label_measures, draw_label_sheet
from shop.models import Hand, LabelSheet
from shop.presses import carry_out, claim, save_single, seen_version
from shop.tools import ToolForm


class LabelSheetForm(ToolForm):
    """A sheet of labels."""

    class Meta:
        model = LabelSheet
        fields = ("name", *LabelSheet.MEASURES, "remarks")
        widgets = {"remarks": forms.Textarea(attrs={"rows": 2})}

    SHEET = ("name", "paper_width", "paper_height")
    LABELS = ("columns", "rows", "label_width", "label_height", "corner_radius")
    PLACES = ("margin_left", "margin_top", "pitch_across", "pitch_down")
    SHIFT = ("shift_right", "shift_down")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in (*self.SHEET[1:], *self.LABELS[2:4], *self.PLACES[2:]):
            self.fields[name].allow_zero = False
        for name in self.SHIFT:
            self.fields[name].allow_negative = True
        for name in self.LABELS[:2]:
            self.fields[name].widget.attrs["inputmode"] = "numeric"

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Give the fields in the order in which a sheet is measured."""
        return [
            ("The sheet", [self[name] for name in self.SHEET]),
            ("Its labels", [self[name] for name in self.LABELS]),
            ("Where they lie", [self[name] for name in self.PLACES]),
            ("Where this printer puts them", [self[name] for name in self.SHIFT]),
        ]


def label_sheet(request: HttpRequest, pk: int | None = None) -> HttpResponse:
    """Measure a new sheet of labels, or change one."""
    sheet = get_object_or_404(LabelSheet, pk=pk) if pk else LabelSheet()
    kept = draw_label_sheet(sheet, request.shop.style, width=420) if pk else ""
    form = LabelSheetForm(request.POST or None, instance=sheet, shop=request.shop)
    if request.method == "POST":
        seen = seen_version(request) if pk else 0
        if form.is_valid() or seen != sheet.version:
            return carry_out(request, lambda hand: _keep(form, hand, seen), said=f"{sheet} is kept.", form=form)
    drawings = {"drawing": kept, "measures": draw_label_measures()}
    context = {"form": form, "sheet": sheet if pk else None, **drawings, "section": "kit"}
    return render(request, "shop/label_sheet_form.html", context, status=422 if form.is_bound else 200)


def _keep(form: LabelSheetForm, hand: Hand, seen: int) -> str:
    sheet, columns = form.instance, None
    if sheet.pk:
        claim(sheet, seen)
        columns = form.columns(hand)
    save_single(sheet, f"There is a sheet {sheet} already.", columns)
    return reverse("shop:label-sheet", args=[sheet.pk])
