import re
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given

from geometry.request import BlankSize, Cutter, EndRadii
from geometry.surface import sagitta
from geometry.units import LengthStyle
from geometry.words import at_least, at_most, say
from geometry.workout import work_out
from tests.geometry.samples import FANNED, ask, requests, steady


def warned(request, style=LengthStyle.MM):
    return {warning.code: warning for warning in work_out(request, style).warnings}


def test_a_sound_board_gives_no_cause():
    assert warned(ask(blank=BlankSize(519, 63, 7.45))) == {}
    assert warned(ask(radius=None)) == {}


def test_a_thin_web_says_where_how_much_and_what_would_do():
    request = ask(thickness=4.1)
    warning = warned(request)["thin-web"]
    assert warning.level == "stop"
    assert (warning.value, warning.limit) == (pytest.approx(1.201398, abs=1e-6), 1.5)
    assert warning.message.startswith(
        "Slot 22 leaves 1.2 mm under it at the edge; 1.5 is the least you set. A board 0.3 mm thicker would do, "
        "or a shallower tang, or a radius of "
    )
    assert "thin-web" not in warned(replace(request, board=replace(request.board, thickness=4.4)))


def test_the_radius_that_is_offered_would_do():
    request = ask(thickness=4.1, radius=EndRadii(254.0, 254.0))
    offered = float(re.search(r"radius of ([0-9.]+) mm", warned(request)["thin-web"].message)[1])
    cured = replace(request, board=replace(request.board, radius=EndRadii(offered, offered)))
    assert "thin-web" not in warned(cured)
    tighter = replace(request, board=replace(request.board, radius=EndRadii(offered - 1, offered - 1)))
    assert "thin-web" in warned(tighter)


def test_sawing_late_does_not_save_a_thin_edge():
    early, late = (warned(ask(thickness=4.1, slotting=f"{when} radiusing"))["thin-web"] for when in ("before", "after"))
    assert early == late


def test_a_slot_through_the_board():
    warning = warned(ask(thickness=2.5))["thin-web"]
    assert warning.value < 0
    assert warning.message.startswith("Slot 22 goes through the board at the edge, by 0.4 mm.")
    assert "1.9 mm thicker" in warning.message
    assert warned(ask(thickness=2.5, web_min=0.0))["thin-web"].level == "stop"
    hopeless = warned(ask(thickness=1.5, web_min=0.0))["thin-web"]
    assert "shallower tang" in hopeless.message and "radius" not in hopeless.message


def test_a_thin_edge_where_there_is_no_slot():
    codes = warned(ask(thickness=2.4, overhang=60.0, heel_width=85.0, radius=EndRadii(254.0, 254.0)))
    warning = codes["thin-edge"]
    assert warning.level == "stop" and warning.limit == 1.5
    assert warning.message.startswith("The edge at the heel end has nothing left of it;")
    assert warning.value == pytest.approx(2.4 - sagitta(254, 85))


def test_a_cut_that_runs_out_through_the_glue_face():
    warning = warned(ask(thickness=4.0, radius=EndRadii(184.15, 184.15), blank=BlankSize(530, 90, 8)))["thin-edge"]
    assert warning.value < 0 and warning.limit == 0
    assert "runs out through the glue face at the he" in warning.message
    assert "narrower blank" in warning.message


def test_a_blank_that_is_too_small_every_way():
    codes = warned(ask(blank=BlankSize(500, 60, 7)))
    assert codes["blank-short"].message == (
        "The blank is 18.95 mm too short: it measures 500 mm, and the board needs 519 mm with its allowances. "
        "A shorter proving strip or run-out would do."
    )
    assert codes["blank-narrow"].message.startswith("The blank is 3 mm too narrow: it measures 60 mm")
    assert codes["blank-thin"].message.startswith("The blank is 0.45 mm too thin: it measures 7 mm")
    assert {codes[code].level for code in ("blank-short", "blank-narrow", "blank-thin")} == {"stop"}
    assert codes["blank-thin"].limit == pytest.approx(7.45)
    hopeless = warned(ask(blank=BlankSize(400, 50, 7)))
    assert "would do" not in hopeless["blank-short"].message
    assert "would do" not in hopeless["blank-narrow"].message


def test_a_deep_cut_says_in_how_many_levels():
    warning = warned(ask(radius=EndRadii(184.15, 184.15), cutter=Cutter(16.0, 1.5)))["deep-cut"]
    assert warning.level == "caution"
    assert warning.limit == 1.5
    assert warning.message.endswith("Go over the board in 2 levels.")
    assert "deep-cut" not in warned(ask(radius=EndRadii(184.15, 184.15), cutter=Cutter(16.0, 3.0)))


@pytest.mark.parametrize(
    ("radius", "words"),
    [
        (EndRadii(150.0, 150.0), ["A radius of 150 mm is tighter than the usual 184.2 mm. Check that it is meant."]),
        (
            EndRadii(254.0, 600.0),
            ["A radius of 600 mm at the heel is flatter than the usual 508 mm. Check that it is meant."],
        ),
        (EndRadii(184.15, 508.0), []),
    ],
)
def test_an_unusual_radius_is_asked_about(radius, words):
    messages = [w.message for w in work_out(ask(radius=radius)).warnings if w.code == "unusual-radius"]
    assert messages == words


def test_words_in_the_shops_unit():
    request = ask(thickness=4.1)
    decimal, fraction = (
        warned(request, style)["thin-web"].message for style in (LengthStyle.INCH_DECIMAL, LengthStyle.INCH_FRACTION)
    )
    assert decimal.startswith(
        "Slot 22 leaves 0.047 in under it at the edge; 0.059 is the least you set. A board 0.012 in"
    )
    assert fraction.startswith("Slot 22 leaves 0.047 in under it at the edge; 0.059 is the least you set.")
    assert "or a radius of 22\u00a043/64\u00a0in there" in fraction


def test_what_is_said_is_never_past_a_limit():
    assert at_most(1.4999, LengthStyle.MM) == "1.49 mm"
    assert at_least(1.4901, LengthStyle.MM) == "1.5 mm"
    assert at_least(0.1, LengthStyle.INCH_FRACTION) == "0.004 in"
    assert (
        at_least(0.396875, LengthStyle.INCH_FRACTION) == at_most(0.396875, LengthStyle.INCH_FRACTION) == "1/64\u00a0in"
    )
    assert at_least(25.5, LengthStyle.INCH_FRACTION) == "1\u00a01/64\u00a0in"
    assert at_most(0.45 + 1e-13, LengthStyle.MM) == at_least(0.45 + 1e-13, LengthStyle.MM) == "0.45 mm"
    # ASTM E29 and ASME A112.18.1 annex A round limits inward: 1.255 to 1.275 becomes 1.26 to 1.27.
    assert at_least(Decimal("1.255"), LengthStyle.MM, unit=False) == "1.26"
    assert at_most(Decimal("1.275"), LengthStyle.MM, unit=False) == "1.27"
    assert say(100, unit=False) == "100"


@steady
@given(requests)
def test_warnings_are_words_and_figures_that_agree(request):
    for style in LengthStyle:
        for warning in work_out(request, style).warnings:
            assert warning.level in ("stop", "caution")
            assert warning.message.endswith(".") and "nan" not in warning.message and "!" not in warning.message
            assert warning.value != warning.limit


@steady
@given(requests)
def test_a_board_as_much_thicker_as_it_says_has_web_enough(request):
    thin = replace(request, board=replace(request.board, thickness=3.0, radius=request.board.radius), web_min=1.5)
    warning = warned(thin).get("thin-web")
    if warning is None:
        return
    more = float(re.search(r"A board ([0-9.]+) mm thicker", warning.message)[1])
    assert "thin-web" not in warned(replace(thin, board=replace(thin.board, thickness=3.0 + more)))


def test_fanned_boards_are_warned_about_as_well():
    assert "thin-web" in warned(ask(FANNED, thickness=3.5))
