"""The small drawings of the kit: each measure has one, and in it the one dimension that is meant is picked out."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import pytest

from geometry.jigtest import TestBoard
from geometry.units import LengthStyle
from shop.drawings.former import draw_arc
from shop.drawings.measure import MEASURES, draw_measure
from shop.drawings.testboard import draw_test_board
from shop.fields import LengthInput
from shop.formers import FormerForm
from shop.jigs import JigForm
from shop.tools import CutterForm

SVG = "{http://www.w3.org/2000/svg}"


@pytest.mark.parametrize("name", MEASURES)
@pytest.mark.parametrize("medium", ["screen", "paper"])
def test_a_measure_is_picked_out(name: str, medium: str) -> None:
    root = ET.fromstring(draw_measure(name, medium=medium))
    assert len(root.find(f"{SVG}title").text) > 10
    picked = [each for each in root.iter(f"{SVG}g") if each.get("class") == "measured"]
    assert 1 <= len(picked) <= 2
    others = {
        float(each.get("stroke-width")) for each in root.iter() if each.get("stroke-width") and each not in picked
    }
    assert all(float(each.get("stroke-width")) > max(others | {0.0}) for each in picked), "thicker than all else"
    assert sum(1 for group in picked for _ in group.iter(f"{SVG}polygon")) in (1, 2, 4), "it ends in arrows"
    assert not any("style" in each.attrib for each in root.iter())


@pytest.mark.parametrize("name", MEASURES)
def test_nothing_is_drawn_outside(name: str) -> None:
    root = ET.fromstring(draw_measure(name))
    _, _, wide, high = map(float, root.get("viewBox").split())
    for each in root.iter():
        ends = [(each.get(f"x{end}"), each.get(f"y{end}")) for end in "12"]
        pairs = re.findall(r"(-?[\d.]+),(-?[\d.]+)", each.get("points", ""))
        for x, y in [*pairs, *(end for end in ends if end[0] is not None)]:
            assert -1 <= float(x) <= wide + 1, name
            assert -1 <= float(y) <= high + 1, name


@pytest.mark.parametrize("form", [JigForm, FormerForm, CutterForm])
def test_every_length_of_a_form_has_its_drawing(form: type) -> None:
    lengths = {name for name, field in form.base_fields.items() if isinstance(field, LengthInput)}
    assert lengths <= set(MEASURES)


@pytest.mark.parametrize("radius", [None, 20.0, 184.15, 508.0, 50_000.0])
@pytest.mark.parametrize("hollow", [False, True])
def test_arcs_of_any_radius(radius: float | None, hollow: bool) -> None:
    root = ET.fromstring(draw_arc(radius, hollow=hollow, style=LengthStyle.INCH_FRACTION))
    title = root.find(f"{SVG}title").text
    assert ("radius" in title) == (radius is not None)
    assert ("hollow" in title.lower()) == hollow


def test_an_arc_is_drawn_to_its_scale() -> None:
    """Its drop over 80 mm less two line widths, three times: 3 (R - sqrt(R² - c²/4))."""
    root = ET.fromstring(draw_arc(254.0))
    d = root.find(f"{SVG}path").get("d")
    left, top, a, b, right = (float(n) for n in re.match(
        r"M([\d.]+) [\d.]+V([\d.]+)A([\d.]+) ([\d.]+) 0 0 1 ([\d.]+)", d
    ).groups())  # fmt: skip
    assert b == pytest.approx(3 * a) == pytest.approx(762)
    half = (right - left) / 2
    inset = float(root.get("stroke-width")) * 1.7 / 1.1
    assert top - inset == pytest.approx(3 * (254 - (254**2 - half**2) ** 0.5), abs=0.01)


@pytest.mark.parametrize(("style", "width"), [(LengthStyle.MM, "100.0"), (LengthStyle.INCH_DECIMAL, "3.937")])
def test_the_test_board_says_where_it_is_read(style: LengthStyle, width: str) -> None:
    root = ET.fromstring(draw_test_board(TestBoard(400, 100, 12), style=style))
    words = [each.text for each in root.iter(f"{SVG}text")]
    assert width in words
    crosses = [each for each in root.iter(f"{SVG}line") if each.get("stroke-width")]
    assert len(crosses) == 12, "six crosses"
