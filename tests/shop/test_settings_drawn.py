"""What has to be set on a machine is drawn with its figures: saw, thicknesser, taper, cauls."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import pytest

from geometry.request import Request
from geometry.result import Result
from geometry.units import LengthStyle, format_small
from geometry.workout import work_out
from shop.drawings.cauls import draw_cauls
from shop.drawings.saw import draw_saw
from shop.drawings.taper import ACROSS, draw_taper
from shop.drawings.thicknesser import draw_thicknesser
from tests.shop.drawn import BOARDS, COMPOUND, FANNED, FLAT, SVG, box, corners, of_class, read, words


def cauls(result: Result, request: Request, **how):
    radius = request.board.radius
    return draw_cauls(*((radius.nut, radius.heel) if radius else (None, None)), **how)


DRAWERS = {
    "saw": draw_saw,
    "thicknesser": lambda result, request, **how: draw_thicknesser(result.thickness.before_radiusing, **how),
    "taper": draw_taper,
    "cauls": cauls,
}
EVERY = list(itertools.product(DRAWERS, BOARDS, LengthStyle, ("screen", "paper")))
near = pytest.approx


def drawn(drawer: str, request: Request, **how):
    return read(DRAWERS[drawer](work_out(request), request, **how))


@pytest.mark.parametrize(("drawer", "board", "style", "medium"), EVERY)
def test_every_drawing_is_one_picture_with_its_words(drawer, board, style, medium):
    root = drawn(drawer, BOARDS[board], style=style, medium=medium)
    assert root.get("role") == "img"
    assert root.find(SVG + "title").text and root.find(SVG + "desc").text
    for element in root.iter():
        assert not {"style", "id", "onload", "href"} & set(element.attrib)
        assert not {"nan", "inf"} & set(" ".join(element.attrib.values()).split())


@pytest.mark.parametrize(("drawer", "board", "style", "medium"), EVERY)
def test_nothing_lies_outside_the_drawing(drawer, board, style, medium):
    root = drawn(drawer, BOARDS[board], style=style, medium=medium)
    left, top, width, height = box(root)
    for element in root.iter():
        for x, y in corners(element):
            assert left <= x <= left + width and top <= -y <= top + height, element.attrib
        if element.tag == SVG + "text" and not element.get("transform"):
            assert left <= float(element.get("x")) <= left + width, element.text
            assert top <= float(element.get("y")) <= top + height, element.text


@pytest.mark.parametrize("style", LengthStyle)
def test_the_saw_shows_scale_depth_and_width(style):
    result = work_out(COMPOUND)
    root = drawn("saw", COMPOUND, style=style)
    shown = " ".join(words(root)).replace("\u00a0", " ")
    scale = {
        LengthStyle.MM: "scale 647.7",
        LengthStyle.INCH_DECIMAL: "scale 25.500",
        LengthStyle.INCH_FRACTION: "25 1/2",
    }
    assert scale[style] in shown
    for length in (result.slots.depth_setting, COMPOUND.wire.kerf, result.thickness.before_radiusing):
        assert format_small(length, style, with_unit=False) in words(root)


def test_the_blade_stands_as_deep_and_as_wide_as_it_is_set():
    """Blade and board are drawn in one scale, so that the drawing cannot belie the figure."""
    result = work_out(COMPOUND)
    root = drawn("saw", COMPOUND)
    (blade,), board = of_class(root, "blade"), of_class(root, "wood")[1]
    face, back = (sorted({y for _, y in corners(board)})[index] for index in (-1, 0))
    (left, floor), *_, (right, _) = sorted(corners(blade))
    mm = (face - back) / result.thickness.before_radiusing
    assert (face - floor) / mm == near(result.slots.depth_setting, abs=0.01)
    assert (right - left) / mm == near(COMPOUND.wire.kerf, abs=0.01)


def test_one_setting_of_the_saw_serves_several_boards():
    assert "3.35" in words(read(draw_saw(work_out(COMPOUND), COMPOUND, depth=3.35)))


def test_slots_after_the_radius_are_sawn_in_a_thinner_board():
    after = replace(COMPOUND, slotting="after radiusing")
    thickness = work_out(after).thickness
    assert f"{thickness.after_radiusing:.2f}" in words(drawn("saw", after))
    assert f"{thickness.before_radiusing:.2f}" not in words(drawn("saw", after))


def test_a_fanned_board_shows_both_scales():
    assert {"scale bass 685.8", "scale treble 647.7"} <= set(words(drawn("saw", FANNED)))


def test_the_thicknesser_shows_its_gap():
    result = work_out(COMPOUND)
    root = drawn("thicknesser", COMPOUND)
    assert f"{result.thickness.before_radiusing:.2f}" in words(root)
    assert f"to {result.thickness.before_radiusing:.2f}" in root.find(SVG + "title").text


@pytest.mark.parametrize("board", BOARDS)
def test_the_taper_is_cut_proud_of_the_finished_outline(board):
    request = BOARDS[board]
    root = drawn("taper", request)
    proud = request.allowances.edge
    for width in (request.board.nut_width, request.board.heel_width):
        assert f"{width + 2 * proud:.2f}" in words(root)
    assert f"{proud:.2f} proud at each side" in words(root)
    (cut,), (finished,) = of_class(root, "cut"), of_class(root, "board")
    for (_, outer), (_, inner) in zip(corners(cut), corners(finished), strict=True):
        assert math.copysign(1, outer) == math.copysign(1, inner)
    (outer, *_), (inner, *_) = (sorted(corners(each), key=lambda at: -at[0]) for each in (cut, finished))
    assert (abs(outer[1]) - abs(inner[1])) / ACROSS == near(proud, abs=0.01)


def test_cauls_show_the_radius_of_each_end_and_flat_ones_say_so():
    assert {"254 mm", "406.4 mm"} <= set(words(drawn("cauls", COMPOUND)))
    assert words(drawn("cauls", FLAT)).count("flat") == 2
