"""A board seen from its heel: where the curve really is."""

from xml.etree import ElementTree as ET

import pytest

from geometry.units import LengthStyle
from shop.drawings.endview import Arc, EndView, corners_view, draw_end_view
from tests.shop.test_drawings import advances, words_stay_on

__all__ = ["advances"]  # the fixture

SVG = "{http://www.w3.org/2000/svg}"


def texts(svg: str) -> list[str]:
    return [node.text or "" for node in ET.fromstring(svg).iter(f"{SVG}text")]


def test_a_curve_passes_through_what_was_read_at_the_corners() -> None:
    # Sides that differ by d lie on a circle whose middle is off by about d R / w (geometry notes); the drawn one is it.
    view = corners_view("Head end", 70, 304.8, 6.15, (3.93, 4.15), 0.22 * 304.8 / 70)
    for y, z in view.points:
        assert view.found.height(y) == pytest.approx(z, abs=0.003)
    assert view.high == "treble"
    assert view.wanted.height(0) == 6.15 and view.wanted.height(-20) == view.wanted.height(20)


def test_a_flat_board_leans() -> None:
    view = corners_view("Heel end", 70, None, 6.15, (6.25, 6.05), 0.0)
    assert [view.found.height(y) for y, _ in view.points] == pytest.approx([6.25, 6.05])
    assert view.high == "bass"


def test_a_hollow_board_rises_to_its_sides() -> None:
    arc = Arc(-300, 0.0, 6.0)
    assert arc.height(30) > arc.height(0) == 6.0


def test_the_drawing_says_its_scale_its_unit_and_which_side_is_high() -> None:
    view = corners_view("Head end", 70, 304.8, 6.15, (3.93, 4.15), 0.96)
    svg = draw_end_view(view)
    said = texts(svg)
    assert "Head end" in said and "treble, high" in said and "bass" in said
    assert "middle 0.96 to the treble" in said
    assert {"3.93", "4.15", "measured", "as it should be"} <= set(said)
    assert any(words.startswith("Seen from the heel. Figures in mm, height × ") for words in said)
    root = ET.fromstring(svg)
    desc = root.find(f"{SVG}desc").text
    assert "0.96 towards the treble side" in desc and "304.8 mm" in desc
    assert "style=" not in svg
    assert "height × 8" in root.find(f"{SVG}title").text


def test_a_curve_on_the_centreline_has_no_middle_drawn() -> None:
    view = EndView("Nut", 43, Arc(254, 0, 6), Arc(254, 0.1, 6), ((-20, 5.2), (0, 6), (20, 5.2)))
    assert not [words for words in texts(draw_end_view(view)) if words.startswith("middle")]


def test_inches_are_written_in_inches() -> None:
    view = corners_view("Head end", 70, 304.8, 6.15, (3.93, 4.15), 0.96)
    said = texts(draw_end_view(view, style=LengthStyle.INCH_DECIMAL))
    assert "0.155" in said and "middle 0.038 to the treble" in said


@pytest.mark.parametrize(("read", "off"), [((0, 0), 0), ((100, 0), 9e3), ((1e-9, 2e-9), 0), ((900, 900), -1e6)])
def test_readings_that_no_board_has_are_drawn_all_the_same(read: tuple[float, float], off: float) -> None:
    svg = draw_end_view(corners_view("Head end", 70, 304.8, 6.15, read, off))
    assert "nan" not in svg.lower() and "inf" not in svg.lower()


def test_no_words_run_off_the_drawing(advances: dict[str, dict[str, float]]) -> None:
    for off in (0, 0.5, -0.9, 12, -40):
        view = corners_view("Head end", 70, 304.8, 6.15, (3.93, 4.15), off)
        for style in LengthStyle:
            words_stay_on(ET.fromstring(draw_end_view(view, style=style)), advances)


def test_no_side_is_high_within_the_tolerance() -> None:
    assert corners_view("Head end", 70, 304.8, 6.15, (4.02, 4.12), 0.4, 0.1).high == ""
    assert corners_view("Head end", 70, 304.8, 6.15, (4.02, 4.13), 0.4, 0.1).high == "treble"
