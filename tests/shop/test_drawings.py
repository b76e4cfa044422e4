"""The drawings hold the figures that geometry returned, at their places and in words."""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import replace
from pathlib import Path

import font_source_sans_pro
import pytest
from fontTools.ttLib import TTFont
from hypothesis import given
from hypothesis import strategies as st

from geometry.outline import outline
from geometry.request import BlankSize
from geometry.surface import sagitta
from geometry.units import LengthStyle, format_length
from geometry.workout import work_out
from shop.drawings import section
from shop.drawings.jig import JigEnd, draw_jig
from shop.drawings.ledger import draw_ledger, layers
from shop.drawings.plan import draw_plan
from shop.drawings.section import draw_sections
from shop.drawings.svg import Drawing, number, printable
from shop.drawings.words import written_radius
from tests.shop.drawn import (
    BASS,
    BOARDS,
    COMPOUND,
    FANNED,
    FLAT,
    HOSTILE,
    SVG,
    box,
    corners,
    ends,
    of_class,
    read,
    unit,
    words,
)

DRAWERS = {
    "plan": draw_plan,
    "plan without blank": lambda *a, **k: draw_plan(*a, blank=False, strings=True, **k),
    "sections": draw_sections,
    "sections abreast": lambda *a, **k: draw_sections(*a, abreast=True, **k),
    "ledger": draw_ledger,
    "jig": lambda result, request, **k: draw_jig(
        JigEnd(result.board.frets[0].radius, "A"), JigEnd(None, "B"), riser_in=request is FLAT, **k
    ),
}
ALL = list(itertools.product(DRAWERS, BOARDS, LengthStyle, ("screen", "paper")))
PREVIEW = Path(__file__).parents[2] / "templates/shop/_preview.html"
near = pytest.approx


def drawn(drawer: str, board: str, style: LengthStyle = LengthStyle.MM, medium: str = "screen"):
    request = BOARDS[board]
    return read(DRAWERS[drawer](work_out(request), request, style=style, medium=medium))


@pytest.mark.parametrize(("drawer", "board", "style", "medium"), ALL)
def test_every_drawing_is_well_formed(drawer, board, style, medium):
    """One picture for a screen reader, nothing that the security policy forbids or that clashes on a page."""
    root = drawn(drawer, board, style, medium)
    assert root.get("role") == "img"
    assert root.find(SVG + "title").text and root.find(SVG + "desc").text
    for element in root.iter():
        assert not {"style", "id", "onload", "href"} & set(element.attrib)
        assert "nan" not in " ".join(element.attrib.values()) and "inf" not in " ".join(element.attrib.values())


@pytest.mark.parametrize(("drawer", "board", "style"), list(itertools.product(DRAWERS, BOARDS, LengthStyle)))
def test_paper_survives_a_copier_and_is_read(drawer, board, style):
    """Lines of 0.2 mm and more, text of 9.5 pt and more at its printed size, black on white."""
    root = drawn(drawer, board, style, "paper")
    assert root.get("width").endswith("mm")
    for element in root.iter():
        width = float(element.get("stroke-width", root.get("stroke-width"))) / unit(root)
        size = float(element.get("font-size", root.get("font-size"))) / unit(root)
        assert width >= 0.2
        assert size * 72 / 25.4 >= 9.5
        assert {element.get("fill", "none"), element.get("stroke", "none")} <= {"none", "#000", "#fff"}


@pytest.fixture(scope="module")
def advances():
    folder = Path(font_source_sans_pro.__file__).parent / "files"
    found = {}
    for weight in ("Regular", "Bold"):
        font = TTFont(folder / f"SourceSansPro-{weight}.ttf")
        widths, glyphs = font["hmtx"], font.getBestCmap()
        found[weight] = {chr(code): widths[name][0] / font["head"].unitsPerEm for code, name in glyphs.items()}
    return found


def test_width_of_words_is_never_taken_too_short(advances):
    on = Drawing("t", "d", (0, 0, 1, 1), width=1)
    for table in advances.values():
        for code in range(32, 127):
            assert on.text_width(chr(code)) >= table[chr(code)] * on.text_height


@pytest.mark.parametrize(("drawer", "board", "style", "medium"), ALL)
def test_no_words_run_off_the_drawing(drawer, board, style, medium, advances):
    words_stay_on(drawn(drawer, board, style, medium), advances)


@pytest.mark.parametrize(("board", "style"), list(itertools.product(BOARDS, LengthStyle)))
def test_the_ledger_beside_a_form_cuts_no_name_off(board, style, advances):
    """It is narrower there than on the page of a build."""
    width = int(re.search(r"ledger_drawing asked result width=(\d+)", PREVIEW.read_text())[1])
    words_stay_on(read(draw_ledger(work_out(BOARDS[board]), BOARDS[board], style=style, width=width)), advances)


def words_stay_on(root, advances):
    """Measure with the font's own widths, turned where the drawing turns them."""
    left, top, width, height = box(root)
    for text in root.iter(SVG + "text"):
        size = float(text.get("font-size", root.get("font-size")))
        table = advances["Bold" if text.get("font-weight") else "Regular"]
        long = sum(table[c] for c in text.text) * size
        x, y = float(text.get("x")), float(text.get("y"))
        start = {"start": 0.0, "middle": -long / 2, "end": -long}[text.get("text-anchor", "start")]
        if text.get("transform"):
            assert text.get("transform").startswith("rotate(-90 ")
            assert left <= x - 0.75 * size and x <= left + width
            assert top <= y - long - start and y - start <= top + height
        else:
            assert left <= x + start and x + start + long <= left + width, text.text
            assert top <= y - 0.75 * size and y <= top + height, text.text


@pytest.mark.parametrize("board", BOARDS)
def test_plan_has_frets_and_outline_where_geometry_has_them(board):
    request = BOARDS[board]
    result, root = work_out(request), drawn("plan", board)
    lines = of_class(root, "fret")
    assert len(lines) == len(result.board.frets)
    for line, fret in zip(lines, result.board.frets, strict=True):
        assert ends(line) == (near(fret.bass, abs=1e-3), near(fret.treble, abs=1e-3))
    asked = request.board
    expected = outline(result.board, asked.nut_width, asked.heel_width, nut_ledge=asked.nut_ledge)
    (drawn_board,) = of_class(root, "board")
    assert corners(drawn_board) == [near(corner, abs=1e-3) for corner in expected]
    (blank,) = of_class(root, "blank")
    size = request.blank or result.blank_needed
    xs, ys = zip(*corners(blank), strict=True)
    assert max(xs) - min(xs) == near(size.length, abs=2e-3) and max(ys) - min(ys) == near(size.width, abs=2e-3)
    assert result.board.length - result.board.overall - min(xs) == near(request.allowances.end, abs=2e-3)


def test_twelfth_fret_halves_the_scale():
    """The octave divides the string in two: known since antiquity, and exact in equal temperament."""
    line = of_class(drawn("plan", "compound"), "fret")[12]
    assert ends(line)[0][0] == near(647.7 / 2, abs=1e-3)


@pytest.mark.parametrize(("board", "style"), list(itertools.product(BOARDS, LengthStyle)))
def test_plan_says_the_figures(board, style):
    request = BOARDS[board]
    result, said = work_out(request), words(drawn("plan", board, style))

    def figure(value):
        return format_length(value, style, with_unit=False)

    assert f"nut to heel: {figure(result.board.length)}" in said
    assert f"blank: {figure((request.blank or result.blank_needed).length)}" in said
    assert figure(request.board.nut_width) in said and figure(request.board.heel_width) in said
    assert f"run-out {figure(request.allowances.end)}" in said
    if board in ("compound", "bass", "flat"):
        assert f"nut to fret 12: {figure(result.board.frets[12].from_nut)}" in said
    if result.board.overall > result.board.length + 1e-6:
        assert f"over all: {figure(result.board.overall)}" in said
    assert any(("mm" if style is LengthStyle.MM else "inches") in line for line in said)


def test_plan_dimension_spans_what_it_measures():
    """The line beside a figure is as long as the figure says."""
    root = drawn("plan", "compound")
    (text,) = (t for t in root.iter(SVG + "text") if (t.text or "").startswith("nut to fret 12"))
    level = float(text.get("y"))
    lines = [ends(line) for line in root.iter(SVG + "line")]
    below = [line for line in lines if line[0][1] == line[1][1] and level < -line[0][1] < level + 3]
    assert [line[1][0] - line[0][0] for line in below] == [near(647.7 / 2, abs=2e-3)]


def test_plan_strings_lie_inside_the_edges_by_the_inset():
    root = drawn("plan without blank", "fanned")
    asked, result = FANNED.board, work_out(FANNED)
    for side, line in zip((-1, 1), of_class(root, "string"), strict=True):
        for x, y in ends(line):
            half = (asked.nut_width + (asked.heel_width - asked.nut_width) * x / result.board.length) / 2
            assert side * y == near(half - asked.scale.inset, abs=2e-3)


def test_plan_that_has_no_room_for_a_proving_strip_says_nothing_of_it():
    request = replace(COMPOUND, blank=BlankSize(485, 70, 8.5))
    root = read(draw_plan(work_out(request), request))
    assert not any("proving" in line for line in words(root))


@pytest.mark.parametrize("slotting", ["before radiusing", "after radiusing"])
@pytest.mark.parametrize("board", BOARDS)
def test_sections_have_the_curve_of_the_board(board, slotting):
    """The arc is an ellipse of the board's radius, higher by the factor that the drawing names."""
    request = replace(BOARDS[board], slotting=slotting)
    result = work_out(request)
    root = read(draw_sections(result, request))
    thick, factor = request.board.thickness, section.HEIGHTS
    assert f"height × {factor}" in root.find(SVG + "title").text
    assert any(f"height × {factor}" in line for line in words(root))
    for cut, path in zip(section.cuts(result, request), of_class(root, "board"), strict=True):
        x, base, edge = map(float, re.match(r"M(\S+) (\S+)V([-\d.]+)", path.get("d")).groups())
        assert (base - edge) / factor == near(cut.edge, abs=1e-3)
        arc = re.search(r"A(\S+) (\S+) 0 0 1 (\S+) (\S+)V", path.get("d"))
        if cut.radius is None:
            assert arc is None
            continue
        rx, ry, right, _ = map(float, arc.groups())
        assert (rx, ry) == (near(cut.radius, abs=1e-3), near(factor * cut.radius, abs=1e-3))
        assert right - x == near(cut.width, abs=2e-3)
        # Top of the ellipse over its ends, against the height of the segment: r - sqrt(4r² - c²)/2
        # (Machinery's Handbook, "Segments of a Circle").
        rise = ry * (1 - math.sqrt(1 - ((right - x) / 2 / rx) ** 2))
        assert thick - rise / factor == near(cut.edge, abs=1e-3)
        assert rise / factor == near(cut.radius - math.sqrt(4 * cut.radius**2 - cut.width**2) / 2, abs=1e-3)
    (floor,) = of_class(root, "slot-floor")
    assert floor.tag == SVG + ("path" if slotting == "after radiusing" else "line")


def test_sections_say_the_figures():
    result = work_out(COMPOUND)
    said = words(drawn("sections", "compound"))
    fret = result.board.frets[12]
    for value in (result.board.frets[0].edge_thickness, fret.edge_thickness, fret.width, 6.35, 43, 57):
        assert format_length(value, with_unit=False) in said
    assert f"web {format_length(fret.web, with_unit=False)}" in said
    heel = 6.35 - float(sagitta(406.4, 57))
    assert format_length(heel, with_unit=False) in said
    assert {"Nut", "Fret 12", "Heel", "radius 254 mm", "radius 406.4 mm"} <= set(said)
    assert "radius 10 in" in words(drawn("sections", "compound", LengthStyle.INCH_DECIMAL))


@pytest.mark.parametrize("width", [230, 300, 400])
@pytest.mark.parametrize("board", BOARDS)
def test_names_and_radii_keep_clear_of_each_other(board, width, advances):
    """Over each section, whatever room it has."""
    root = read(draw_sections(work_out(BOARDS[board]), BOARDS[board], width=width))
    lines = {}
    for text in root.iter(SVG + "text"):
        if text.text in ("Nut", "Heel", "flat") or text.text.startswith(("Fret", "radius")):
            table = advances["Bold" if text.get("font-weight") else "Regular"]
            long = sum(table[c] for c in text.text) * float(root.get("font-size"))
            start = (
                float(text.get("x"))
                + {"start": 0.0, "middle": -long / 2, "end": -long}[text.get("text-anchor", "start")]
            )
            lines.setdefault(text.get("y"), []).append((start, start + long))
    assert sum(map(len, lines.values())) == 6
    for spans in lines.values():
        for (_, end), (start, _) in itertools.pairwise(sorted(spans)):
            assert end < start


def test_sections_of_a_short_board_take_its_last_fret():
    assert "Fret 8" in words(drawn("sections", "short"))


@pytest.mark.parametrize("board", BOARDS)
def test_ledger_stands_to_scale(board):
    request = BOARDS[board]
    result, root = work_out(request), drawn("ledger", board)
    found = [layer for layer in layers(result, request) if layer.name != "short"]
    for layer, bar in zip(found, of_class(root, "layer"), strict=True):
        ys = [y for _, y in corners(bar)]
        assert max(ys) - min(ys) == near(layer.thick, abs=2e-3)
        assert f"{layer.name} {format_length(layer.thick, with_unit=False)}" in words(root)
    for below, above in itertools.pairwise(layers(result, request)):
        assert above.low == below.high or above.name == "short"


def test_ledger_says_what_is_left_over_and_what_is_short():
    result = work_out(COMPOUND)
    over = layers(result, COMPOUND)[-1]
    assert (over.name, over.thick) == ("left over", near(8.5 - result.thickness.intake_min))
    result = work_out(BASS)
    short = layers(result, BASS)[-1]
    assert (short.name, short.thick) == ("short", near(result.thickness.intake_min - 6.9))
    assert len(of_class(drawn("ledger", "bass"), "short")) == 1
    assert {layer.name for layer in layers(work_out(FLAT), FLAT)} == {
        "finished", "final sanding", "radiusing", "thicknessing"
    }  # fmt: skip


def test_ledger_labels_never_touch():
    for board, style in itertools.product(BOARDS, LengthStyle):
        root = drawn("ledger", board, style)
        size = float(root.get("font-size"))
        for anchor in (None, "end"):
            ys = sorted(float(t.get("y")) for t in root.iter(SVG + "text") if t.get("text-anchor") == anchor)
            assert all(b - a > 1.15 * size for a, b in itertools.pairwise(ys))


def test_jig_says_the_radii_and_the_riser():
    root = read(draw_jig(JigEnd(254, "10"), JigEnd(406.4, "16"), riser_in=True, style=LengthStyle.INCH_DECIMAL))
    assert {"10 in", "16 in", "riser in", "Head, former 10", "Heel, former 16"} <= set(words(root))
    assert len(of_class(root, "riser")) == 1
    root = read(draw_jig(JigEnd(None), JigEnd(None), riser_in=False))
    assert {"flat", "riser out"} <= set(words(root))
    assert of_class(root, "riser") == [] and len(of_class(root, "neck")) == 1


def test_jig_draws_a_radius_tighter_than_half_the_width():
    read(draw_jig(JigEnd(20), JigEnd(25), riser_in=True))


@pytest.mark.parametrize(
    ("radius", "style", "said"),
    [
        (None, LengthStyle.MM, "flat"),
        (254.0, LengthStyle.MM, "254 mm"),
        (300.0, LengthStyle.MM, "300 mm"),
        (304.8, LengthStyle.MM, "304.8 mm"),
        (254.0, LengthStyle.INCH_DECIMAL, "10 in"),
        (184.15, LengthStyle.INCH_DECIMAL, "7.25 in"),
        (508.0, LengthStyle.INCH_FRACTION, "20\u00a0in"),
        (184.15, LengthStyle.INCH_FRACTION, "7\u00a01/4\u00a0in"),
    ],
)
def test_radii_are_written_without_idle_zeros(radius, style, said):
    assert written_radius(radius, style) == said


def test_hostile_words_stay_words():
    root = read(draw_jig(JigEnd(254, HOSTILE), JigEnd(254, ""), riser_in=True))
    assert f"Head, former {printable(HOSTILE)}" in words(root)
    assert not list(root.iter(SVG + "script"))
    assert "\x00" not in printable(HOSTILE) and "<script>" in printable(HOSTILE)


@given(st.text())
def test_any_words_can_be_drawn(text):
    on = Drawing(text, text, (0, 0, 10, 10), width=10)
    on.text((1, 1), text)
    root = read(on.svg())
    assert words(root) == [printable(text)]


@given(st.floats(-1e4, 1e4))
def test_coordinates_are_written_plainly(value):
    assert float(number(value)) == near(value, abs=5.1e-4)
    assert re.fullmatch(r"-?\d+(\.\d*[1-9])?", number(value)) and number(value) != "-0"


@given(
    st.floats(-40, 40), st.floats(1, 60), st.floats(1, 60), st.floats(0.5, 5), st.sampled_from([45.0, -45.0, 30.0]),
)  # fmt: skip
def test_hatching_stays_inside(far, wide, high, every, angle):
    on = Drawing("t", "d", (0, 0, 100, 100), width=100)
    on.hatch([(far, 0), (far + wide, 0), (far + wide, high), (far, high)], every=every, angle=angle)
    for path in of_class(read(on.svg()), "hatch"):
        for x, y in re.findall(r"[ML](\S+?) (-?[\d.]+)", path.get("d")):
            assert far - 2e-3 <= float(x) <= far + wide + 2e-3 and -2e-3 <= float(y) <= high + 2e-3
