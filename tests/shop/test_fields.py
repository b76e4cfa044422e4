"""Boxes for lengths: short to read, and nothing changes where nobody typed."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django import forms
from hypothesis import given
from hypothesis import strategies as st

from geometry.units import LengthStyle, parse_length
from shop.fields import LengthInput, unit_of
from tests.geometry.samples import steady


def form_with(kept: Decimal | None, style: LengthStyle, typed: str | None = None) -> forms.Form:
    field = LengthInput()
    field.style = style
    kind = type("One", (forms.Form,), {"length": field})
    return kind({"length": typed} if typed is not None else None, initial={"length": kept})


@pytest.mark.parametrize(
    ("mm", "style", "text"),
    [
        ("8", LengthStyle.INCH_DECIMAL, "0.315"),  # 0.31496...: 0.315 in is 8.001 mm
        ("8", LengthStyle.INCH_FRACTION, "0.315"),
        ("0.2", LengthStyle.INCH_FRACTION, "0.0079"),
        ("647.7", LengthStyle.INCH_FRACTION, "25 1/2"),
        ("647.7", LengthStyle.INCH_DECIMAL, "25.5"),
        ("650", LengthStyle.INCH_FRACTION, "25.5906"),
        ("635", LengthStyle.INCH_DECIMAL, "25"),
        ("0", LengthStyle.INCH_DECIMAL, "0"),
        ("648", LengthStyle.MM, "648.0"),
        ("8.466667", LengthStyle.MM, "8.467"),
        ("9.25", LengthStyle.MM, "9.25"),
    ],
)
def test_a_box_shows_no_more_decimals_than_tell_something(mm: str, style: LengthStyle, text: str) -> None:
    assert form_with(Decimal(mm), style)["length"].value() == text


@steady
@given(st.integers(0, 2 * 10**9), st.sampled_from(LengthStyle))
def test_a_form_saved_unchanged_changes_nothing(micro: int, style: LengthStyle) -> None:
    kept = Decimal(micro).scaleb(-6)
    shown = form_with(kept, style)["length"].value()
    assert abs(parse_length(shown, unit_of(style)) - kept) <= Decimal("0.00127")
    form = form_with(kept, style, shown)
    assert form.is_valid() and form.cleaned_data["length"] == kept and not form.has_changed()


def test_what_somebody_types_is_taken_as_it_stands() -> None:
    form = form_with(Decimal(8), LengthStyle.INCH_DECIMAL, "0.3150 in")
    assert form.is_valid() and form.cleaned_data["length"] == Decimal("8.001") and form.has_changed()
    for kept in (None, Decimal(9)):
        assert form_with(kept, LengthStyle.INCH_DECIMAL, "0.315").is_valid()
    form = form_with(Decimal(8), LengthStyle.INCH_FRACTION, "6\u00a027/64\u00a0in\u00a0\u2212\u00a00.008")
    assert form.is_valid() and form.cleaned_data["length"] == Decimal("162.912425")  # as a page shows it, copied
