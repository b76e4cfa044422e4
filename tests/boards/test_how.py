"""How was this worked out? The page of every figure, in numbers that can be reckoned again."""

from __future__ import annotations

import re
from decimal import Decimal
from xml.etree import ElementTree

import pytest
from django.test import Client
from django.utils.html import strip_tags

from boards.figures import worked
from geometry.explained import FIGURES, explain, figures_of
from geometry.units import LengthStyle
from shop import mathml
from shop.models import Lengths, Shop
from tests.factories import make_blank, make_build, make_former, make_jig, make_pattern

pytestmark = pytest.mark.django_db


@pytest.fixture
def board(shop: Shop):
    jig = make_jig()
    make_former(jig, "12", cuts=304.8)
    from shop.models import Cutter

    cutter = Cutter.objects.create(name="16 mm", diameter=Decimal(16), max_depth=Decimal(3))
    Shop.objects.update(jig=jig, cutter=cutter)
    return make_blank(make_build(), done=2)


@pytest.mark.parametrize("lengths", Lengths.values)
def test_every_figure_has_its_page(bench: Client, board, lengths: str) -> None:
    Shop.objects.update(lengths=lengths)
    page = bench.get(f"/how/blanks/{board.number}/")
    found = worked(board, Shop.current())
    keys = [each.key for each, _ in figures_of(found.result)] + ["minutes"]
    assert len(keys) > 30
    for key in keys:
        address = f"/how/blanks/{board.number}/{key}/"
        assert f'href="{address}"' in page.text
        answer = bench.get(address)
        assert answer.status_code == 200, address
        assert not re.search(r"\b(nan|inf|None|Traceback)\b", strip_tags(answer.text)), address
        for text in re.findall(r"<math.*?</math>", answer.text):
            ElementTree.fromstring(text)  # well-formed, as MathML Core is within HTML


def test_it_shows_the_equation_with_the_numbers_and_where_they_come_from(bench: Client, board) -> None:
    page = bench.get(f"/how/blanks/{board.number}/fret/?at=12").text
    assert "How far is the fret from the nut face?" in page
    assert "324.0 mm" in page  # the octave: half of 648
    assert "<mtext>648 mm</mtext>" in page and "<mtext>12</mtext>" in page
    assert 'href="/builds/B901/change/"' in page or 'href="/builds/B901/edit/"' in page
    assert "?at=11" in page
    read = bench.get(f"/how/blanks/{board.number}/before/").text
    assert "Thickness at the head, read" in read and f"the log of {board.number}, " in read
    # What is worked out leads on.
    assert f'href="/how/blanks/{board.number}/after/"' in read


def test_what_cannot_be_asked(bench: Client, board) -> None:
    for what in ("nothing/", "fret/?at=99", "fret/?at=x", "fret/?at=%00", "fret/?at=-", "fret/?at=" + "9" * 400):
        assert bench.get(f"/how/blanks/{board.number}/{what}").status_code == 404, what
    free = make_blank()
    assert bench.get(f"/how/blanks/{free.number}/").status_code == 404
    assert bench.get("/how/builds/B999/before/").status_code == 404


def test_a_build_and_a_pattern_can_be_asked_as_well(bench: Client, board) -> None:
    assert "blank" in bench.get("/how/builds/B901/blank-length/").text
    of_pattern = make_blank(make_pattern())
    assert bench.get(f"/how/blanks/{of_pattern.number}/web-least/").status_code == 200
    assert f"/how/blanks/{board.number}/before/" in bench.get(f"/blanks/{board.number}/").text
    assert "/how/builds/B901/passes/" in bench.get("/builds/B901/").text
    at_bench = bench.get(f"/benches/radiusing/?board={board.number}").text
    assert at_bench.count(f"/how/blanks/{board.number}/") == 1


def test_numbers_of_an_equation_can_be_reckoned_again(board) -> None:
    """What is printed, parsed back, gives the figure as printed: the sagitta in either unit."""
    found = worked(board, Shop.current())
    for style, per in ((LengthStyle.MM, 1.0), (LengthStyle.INCH_DECIMAL, 25.4)):
        told = explain("sagitta", found.request, found.result, 22)
        given = {
            name: float(mathml.number(told.values[name], told.kinds[name], style).split()[0]) for name in ("R_n", "W")
        }
        radius, width = given["R_n"] * per, given["W"] * per
        assert radius - (radius**2 - width**2 / 4) ** 0.5 == pytest.approx(told.value, abs=1e-3)


def test_brackets_stand_where_they_must() -> None:
    from geometry.explained.sheet import Step

    def text(expression: str) -> str:
        return strip_tags(mathml.equation(Step("x", expression, "", 0.0))).removeprefix("x=")

    assert text("a - (b - c)") == "a−(b−c)"
    assert text("a - b - c") == "a−b−c"
    assert text("(a + b) * c") == "(a+b)·c"
    assert text("a + b * c") == "a+b·c"
    assert "<mo>(</mo>" not in mathml.equation(Step("x", "sqrt(a + b)", "", 0.0))
    assert text("-(a + b)") == "−(a+b)"
    assert {"next_odd", "round_up"} & {name for each in FIGURES for name in [each]} == set()
