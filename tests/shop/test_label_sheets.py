"""Sheets of labels in the kit: what cannot be is refused beside the box, and nobody's change is lost."""

import re

import pytest
from django.db import IntegrityError
from django.test import Client

from shop.models import LabelSheet
from tests.factories import tap

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(owners_bench: Client) -> Client:
    """The kit is the owner's to change."""
    return owners_bench


def values_of(sheet: LabelSheet, **changes: object) -> dict[str, object]:
    names = ("name", *LabelSheet.MEASURES, "remarks")
    values = {name: getattr(sheet, name) for name in names}
    return {name: "" if value is None else str(value) for name, value in values.items()} | changes


def test_the_starting_sheets_are_whole() -> None:
    assert LabelSheet.objects.count() >= 6
    for sheet in LabelSheet.objects.all():
        sheet.full_clean()
        right = sheet.corner(sheet.count)[0] + sheet.label_width
        # Sheets have the same margin at both sides.
        assert float(sheet.paper_width - right) == pytest.approx(float(sheet.margin_left), abs=0.06)


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"columns": 3}, "pitch_across", r"ends .* beyond the right edge"),
        ({"rows": 8}, "pitch_down", r"ends .* beyond the lower edge"),
        ({"pitch_across": "90"}, "pitch_across", "would lie on one another"),
        ({"pitch_down": "38"}, "pitch_down", "would lie on one another"),
        ({"columns": 1, "label_width": "220", "pitch_across": ""}, "label_width", "beyond the right edge"),
        ({"label_width": "5"}, "label_width", "must be from"),
        ({"paper_width": "2000"}, "paper_width", "must be from"),
        ({"margin_left": "-3"}, "margin_left", "less than nothing"),
        ({"shift_right": "-25"}, "shift_right", "must be from"),
        ({"corner_radius": "30"}, "corner_radius", "rounder than half"),
        ({"columns": 0}, "columns", "less than 1"),
        ({"rows": 10**9}, "rows", "more than 50"),
        ({"rows": "seven"}, "rows", "not a whole number"),
        ({"label_height": "1e400"}, "label_height", "power of ten|not a unit|read"),
        ({"name": "x" * 61}, "name", "61 characters"),
        ({"name": "a\x00b"}, "name", "cannot be kept"),
        ({"name": "A4, 24 LABELS, 70 × 37 mm"}, "name", "already"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused_beside_the_box(
    bench: Client, changes: dict[str, object], field: str, words: str
) -> None:
    sheet = LabelSheet.objects.get(columns=2, rows=7)
    before = values_of(sheet)
    answer = bench.post(f"/kit/labels/{sheet.pk}/", tap(seen=sheet.version, **values_of(sheet, **changes)))
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert re.search(words, " ".join(errors[field])), errors
    sheet.refresh_from_db()
    assert values_of(sheet) == before


def test_a_sheet_is_added_changed_and_taken_out(bench: Client, other_bench: Client) -> None:
    sheet = LabelSheet.objects.get(columns=2, rows=7)
    new = values_of(sheet, name="Ours", shift_right="-1.5")
    assert bench.post("/kit/labels/new/", tap(**new)).status_code == 302
    ours = LabelSheet.objects.get(name="Ours")
    assert str(ours.shift_right) == "-1.500000"
    late = tap(seen=ours.version, **values_of(ours, remarks="Thick ones"))
    assert bench.post(f"/kit/labels/{ours.pk}/", tap(seen=ours.version, **new)).status_code == 302
    answer = other_bench.post(f"/kit/labels/{ours.pk}/", late)
    assert answer.status_code == 409 and "Thick ones" in answer.content.decode()
    assert "Ours" in bench.get("/kit/").content.decode()
    assert bench.post(f"/kit/labels/{ours.pk}/remove/", tap()).status_code == 302
    assert not LabelSheet.objects.filter(name="Ours").exists()


def test_the_database_refuses_labels_on_one_another() -> None:
    with pytest.raises(IntegrityError):
        LabelSheet.objects.filter(columns=2, rows=7).update(pitch_down=30)
