"""SVG and DXF of drawings at full size, read back and compared with geometry to 0.001 mm."""

import io
import math
import re
from dataclasses import replace
from xml.etree import ElementTree as ET

import ezdxf
import pytest

from geometry.outline import outline
from geometry.request import Former, Request, TwoScales
from geometry.shapes import shape_former
from geometry.units import LengthStyle, format_length
from geometry.workout import work_out
from shop.fullsize.description import FullSize
from shop.fullsize.dxf import as_text, write_dxf
from shop.fullsize.former import Plate, draw_former
from shop.fullsize.svg import write_svg
from tests.print.drawn import (
    COMPOUND,
    FANNED,
    FLAT,
    HOLES,
    ReadBack,
    asked,
    former,
    pair_shape,
    read_dxf,
    read_svg,
    template,
)

CLOSE = 0.001
READERS = {
    "svg": lambda drawing: read_svg(write_svg(drawing)),
    "dxf": lambda drawing: read_dxf(write_dxf(drawing)),
}
BOTH = pytest.mark.parametrize("read", READERS.values(), ids=READERS)

HOSTILE = [
    "%%d %%c %%200 100 %",
    r"\P \U+0041 {\fArial;x}",
    "^J^M ^I",
    "two\nlines\r\n  0\nCIRCLE\n",
    "\x00\x07\x1b[31m\x7f\x85",
    "<script>alert(1)</script>\"'&amp;]]>",
    "\u202egnitirw \u200bno width\u2028",
    "Grün ½ Ω 木 🎸",
]


def close(one, other) -> bool:
    return math.dist(one, other) < CLOSE


@BOTH
def test_it_works(read):
    _, result = asked()
    made = result.formers_to_make[0]
    found = read(former())
    ((centre, radius, left, right),) = found.arcs["Outline"]
    assert radius == pytest.approx(made.radius, abs=CLOSE)
    assert centre == pytest.approx((0, made.apex - made.radius), abs=5 * CLOSE)  # of SVG it follows from the ends
    assert centre[1] + radius == pytest.approx(made.apex, abs=CLOSE)
    # Machinery's Handbook, "Segments of a Circle": h = r - sqrt(4r² - c²)/2.
    shoulder = made.apex - made.radius + math.sqrt(4 * made.radius**2 - (2 * made.half_width) ** 2) / 2
    assert close(left, (-made.half_width, shoulder)) and close(right, (made.half_width, shoulder))


@BOTH
def test_the_seat_lies_on_the_bed_and_the_outline_is_closed(read):
    for shape in (None, shape_former(50, 80, 70), shape_former(100, 20, 90), shape_former(None, 90, 80)):
        found = read(former(shape=shape, marked=False, holes=None))
        pieces = found.lines["Outline"] + [(left, right) for _, _, left, right in found.arcs["Outline"]]
        ends = [end for piece in pieces for end in piece]
        for k, end in enumerate(ends):
            assert sum(close(end, other) for j, other in enumerate(ends) if j != k) == 1, end
        assert min(y for _, y in ends) == pytest.approx(0, abs=CLOSE)
        seats = [line for line in found.lines["Outline"] if abs(line[0][1]) + abs(line[1][1]) < CLOSE]
        assert len(seats) == 1


@BOTH
def test_marks_stand_where_a_rack_of_the_exact_pair_has_them(read):
    """Pass marks of geometry for these two formers, which came to them from another side: the setup chosen."""
    request, result = asked()
    rack = tuple(Former(end.end, end.radius, end.apex) for end in result.formers_to_make)
    passes = work_out(replace(request, formers=rack)).passes.list
    assert len(passes) >= 5
    for end, name in enumerate(("head", "heel")):
        found = read(former(end=end))
        shape = pair_shape(result, end)
        marks = sorted(found.lines["Pass marks"], key=lambda mark: mark[0][0])
        assert len(marks) == len(passes)
        for (top, foot), one in zip(marks, passes, strict=True):
            assert top[0] == pytest.approx(getattr(one, f"{name}_square"), abs=CLOSE)
            assert math.dist(top, shape.centre) == pytest.approx(shape.radius, abs=CLOSE)
            assert math.dist(foot, shape.centre) == pytest.approx(shape.radius - 8, abs=2 * CLOSE)
            arc = shape.radius * math.atan2(top[0], top[1] - shape.centre[1])
            assert arc == pytest.approx(getattr(one, f"{name}_arc"), abs=2 * CLOSE)
        assert found.words["Pass marks"] == [str(one.number) for one in passes]


@BOTH
def test_holes_are_as_the_jig_has_them(read):
    found = read(former())
    assert sorted(found.circles["Screw holes"]) == [((-50, 20), 3.25), ((50, 20), 3.25)]
    assert not read(former(holes=None)).circles


@BOTH
def test_strokes_of_a_flat_board_are_marked_on_a_straight_edge(read):
    _, result = asked(FLAT)
    found = read(former(FLAT))
    assert not found.arcs
    made = result.formers_to_make[0]
    top = ((made.half_width, made.apex), (-made.half_width, made.apex))
    assert any(close(line[0], top[0]) and close(line[1], top[1]) for line in found.lines["Outline"])
    marks = sorted(mark[0] for mark in found.lines["Pass marks"])
    assert marks == [pytest.approx((one.head_square, made.apex), abs=CLOSE) for one in result.passes.list]
    assert "Straight edge, for a flat board." in found.words["Words"]


@BOTH
@pytest.mark.parametrize("radius", [99_999.0, 50_000.0])
def test_an_arc_that_is_nearly_straight(read, radius):
    ((_, drawn, left, right),) = read(former(shape=shape_former(radius, 100, 110), marked=False)).arcs["Outline"]
    assert drawn == pytest.approx(radius)
    sagitta = radius - math.sqrt(radius**2 - 110**2)
    assert close(left, (-110, 100 - sagitta)) and close(right, (110, 100 - sagitta))


def test_close_marks_carry_only_some_numbers():
    request, result = asked()
    passes = work_out(replace(request, scallop_max=0.001)).passes
    drawing = draw_former(pair_shape(result), Plate("x", "x", ("x",), passes, HOLES), LengthStyle.MM)
    found = read_dxf(write_dxf(drawing))
    numbers = [int(words) for words in found.words["Pass marks"]]
    assert len(found.lines["Pass marks"]) == passes.count > len(numbers) >= 3
    assert 0 in numbers and sorted(numbers) == [-number for number in sorted(numbers, reverse=True)]


# Templates


@BOTH
def test_frets_stand_where_geometry_has_them(read):
    for board in (COMPOUND, FANNED):
        _, result = asked(board)
        lines = read(template("slotting", board)).lines["Frets"]
        assert len(lines) == board.frets + 1
        for fret, ((xb, yb), (xt, yt)) in zip(result.board.frets, lines, strict=True):
            assert yb == pytest.approx(-result.blank_needed.width / 2, abs=CLOSE) and yt == pytest.approx(
                -yb, abs=CLOSE
            )
            for x, y in (fret.bass, fret.treble):
                assert xb + (xt - xb) * (y - yb) / (yt - yb) == pytest.approx(x, abs=CLOSE)


@BOTH
def test_frets_divide_the_string_as_equal_temperament_does(read):
    lines = read(template("slotting")).lines["Frets"]
    # 1 - 2^(-n/12): fret 12 is half of the string, fret 24 three quarters; 5 and 7 to ten places.
    for fret, share in ((0, 0.0), (1, 0.0561256873), (5, 0.2508464616), (7, 0.3325800729), (12, 0.5), (24, 0.75)):
        assert lines[fret][0][0] == lines[fret][1][0] == pytest.approx(628 * share, abs=CLOSE)


@BOTH
def test_on_a_fan_each_outer_string_is_divided_for_itself(read):
    lines = read(template("slotting", FANNED)).lines["Frets"]
    _, result = asked(FANNED)
    scales: TwoScales = FANNED.scale
    lean = (FANNED.heel_width - FANNED.nut_width) / 2 / result.board.length
    for side, scale in ((-1, scales.bass), (1, scales.treble)):
        met = []
        for (xb, yb), (xt, yt) in lines:
            # The string: y = side (W(x)/2 - inset). Where it crosses x = xb + s (y - yb).
            slant = (xt - xb) / (yt - yb)
            start = side * (FANNED.nut_width / 2 - scales.inset)
            x = (xb + slant * (start - yb)) / (1 - slant * side * lean)
            met.append((x, start + side * lean * x))
        for fret in range(len(met)):
            assert math.dist(met[0], met[fret]) == pytest.approx(scale * (1 - 2 ** (-fret / 12)), abs=2 * CLOSE)
    assert lines[7][0][0] == pytest.approx(lines[7][1][0], abs=CLOSE), "the square fret stands square"


@BOTH
@pytest.mark.parametrize("board", [COMPOUND, FANNED, FLAT])
def test_outlines_of_the_taper_template(read, board):
    request, result = asked(board)
    found = read(template("taper", board))
    for layer, edge in (("Outline", 0.0), ("Rough outline", request.allowances.edge)):
        corners = outline(result.board, board.nut_width, board.heel_width, nut_ledge=board.nut_ledge, edge=edge)
        assert [line[0] for line in found.lines[layer]] == [pytest.approx(corner, abs=CLOSE) for corner in corners]
    # By the spec itself: the heel is as wide as asked for, and rough it is wider by the allowance at both sides.
    widths = [abs(found.lines[layer][2][0][1] - found.lines[layer][2][1][1]) for layer in ("Outline", "Rough outline")]
    assert widths == pytest.approx([board.heel_width, board.heel_width + 6], abs=CLOSE)


@BOTH
def test_the_gauge_measures_from_its_centreline(read):
    found = read(template("gauge"))
    reaches = sorted({round(line[0][0], 3) for line in found.lines["Marks"]})
    assert reaches == [-28, -21, 21, 28]
    assert sorted({round(line[0][0], 3) for line in found.lines["Rough outline"]}) == [-31, -24, 24, 31]
    ticks = sorted({round(line[0][0], 3) for line in found.lines["Scale"]})
    assert ticks == list(range(-39, 40))
    inches = read(template("gauge", style=LengthStyle.INCH_FRACTION))
    ticks = sorted({round(line[0][0], 2) for line in inches.lines["Scale"]})
    assert 25.4 in ticks and len([tick for tick in ticks if 0 <= tick < 25.4]) == 16  # 1 in = 25.4 mm (1959)
    assert {line[0][0] for line in inches.lines["Centreline"]} == {0}


# The files themselves


DRAWINGS = [
    *(former(), former(FLAT)),
    *(template(kind, board) for kind in ("taper", "slotting", "gauge") for board in (COMPOUND, FANNED)),
]


@pytest.mark.parametrize("drawing", DRAWINGS)
def test_both_files_say_the_same_and_carry_both_bars(drawing):
    svg, dxf = read_svg(write_svg(drawing)), read_dxf(write_dxf(drawing))
    for kind in ("lines", "arcs", "circles", "words"):
        ours, theirs = getattr(svg, kind), getattr(dxf, kind)
        assert {layer: len(its) for layer, its in ours.items()} == {layer: len(its) for layer, its in theirs.items()}
    for layer, lines in svg.lines.items():
        for one, other in zip(lines, dxf.lines[layer], strict=True):
            assert close(one[0], other[0]) and close(one[1], other[1])
    for found in (svg, dxf):
        bars = [line for line in found.lines["Check bars"] if abs(math.dist(*line) - 100) < CLOSE]
        assert (
            len(bars) == 2
            and any(bar[0][0] == bar[1][0] for bar in bars)
            and any(bar[0][1] == bar[1][1] for bar in bars)
        )
        assert any("100 %" in words for words in found.words["Check bars"])


@pytest.mark.parametrize("drawing", DRAWINGS)
def test_svg_is_at_full_size(drawing):
    root = ET.fromstring(write_svg(drawing))
    left, top, wide, high = (float(value) for value in root.attrib["viewBox"].split())
    assert root.attrib["width"] == f"{root.attrib['viewBox'].split()[2]}mm"
    assert float(root.attrib["height"].removesuffix("mm")) == pytest.approx(high, abs=CLOSE)
    found = read_svg(write_svg(drawing))
    for lines in found.lines.values():
        for line in lines:
            for x, y in line:
                assert left <= x <= left + wide and top <= -y <= top + high, "nothing lies outside"


@pytest.mark.parametrize("drawing", DRAWINGS)
def test_dxf_is_in_millimetres_on_layers_of_the_trade(drawing):
    document = ezdxf.read(io.StringIO(write_dxf(drawing).decode("cp1252")))
    # DXF reference, header variables: $INSUNITS 4 is millimetres, $MEASUREMENT 1 is metric. The library's own factors
    # of units are no yardstick: its inch has 25.4000000001 mm.
    assert document.header["$INSUNITS"] == 4 and document.header["$MEASUREMENT"] == 1
    named = {layer.dxf.name for layer in document.layers} - {"0", "Defpoints"}
    assert named == {shape.layer.value for shape in drawing.with_check_bars().shapes}
    assert {"Outline", "Centreline", "Words", "Check bars"} <= named


@pytest.mark.parametrize("drawing", DRAWINGS[:3])
def test_the_same_drawing_twice_gives_the_same_bytes(drawing):
    assert write_dxf(drawing) == write_dxf(drawing)
    assert write_svg(drawing) == write_svg(drawing)


@pytest.mark.parametrize("name", HOSTILE)
def test_what_people_typed_does_no_harm(name):
    plain, odd = former(words=("Plain", "Plain")), former(words=(name, name))
    svg, dxf = read_svg(write_svg(odd)), read_dxf(write_dxf(odd))
    for found in (svg, dxf):
        assert _counted(found) == _counted(read_dxf(write_dxf(plain)))
    # Nothing is read as a code: with all spaces left out, what is shown is what was typed, as far as it can be shown.
    shown = [c for c in name.replace("🎸", "?") if c.isprintable() and not c.isspace()]
    assert sum("".join(text.split()) == "".join(shown) for text in _decoded(dxf.words["Words"])) == 2
    assert all(c.isprintable() for group in dxf.words.values() for text in group for c in text)
    raw = write_dxf(odd)
    assert b"\x00" not in raw and b"\x07" not in raw and b"%%" not in raw


def _decoded(words: list[str]) -> list[str]:
    """Read \\U+XXXX, as this version writes what is not in its code page (DXF reference, strings)."""
    return [re.sub(r"\\U\+([0-9a-fA-F]{4})", lambda code: chr(int(code[1], 16)), text) for text in words]


def _counted(found: ReadBack) -> list[int]:
    return [sum(map(len, kind.values())) for kind in (found.lines, found.arcs, found.circles, found.words)]


def test_codes_of_text_are_taken_apart():
    # Codes from memory: %%d degree, %%c diameter, %%u underline, \\U+0041 is A, \\P a new line, ^J a line feed.
    for typed, written in (
        ("100 %", "100 %"),
        ("%%d%%%", "% %d% % %"),
        ("a\\P\nb\\", "a\\ P b\\"),
        ("\\U+0041", "\\ U+0041"),
        ("^J", "^ J"),
    ):
        assert as_text(typed) == written


@pytest.mark.parametrize("style", LengthStyle)
def test_it_carries_its_dimensions(style):
    _, result = asked()
    made, shape = result.formers_to_make[0], pair_shape(result)
    words = " ".join(text for group in read_dxf(write_dxf(former(style=style))).words.values() for text in group)
    places = 2 if style is LengthStyle.MM else None
    for value in (made.radius, made.apex, made.half_width, shape.shoulder, 6.5, 100, 20):
        assert format_length(value, style, places).replace("\u00a0", " ").replace("\u2212", "-") in words
    assert "This edge on the bed" in words and "Bass side" in words and "Seen from the heel end" in words


def test_holes_that_do_not_lie_inside_are_told_of():
    for wide, holes, where in (
        (110, replace(HOLES, spacing=230), "at the sides"),
        (110, replace(HOLES, height=100), "at the arc"),
        (110, replace(HOLES, height=3), "at the edge on the bed"),
    ):
        drawing = former(shape=shape_former(373, 104, wide), holes=holes)
        assert any("Caution: The screw holes would come out " + where in text for text in _words(drawing)), where
    assert not any("Caution" in text for text in _words(former()))


def _words(drawing: FullSize) -> list[str]:
    return [text for group in read_svg(write_svg(drawing)).words.values() for text in group]


def test_a_request_without_jig_has_no_pair():
    assert work_out(Request(COMPOUND, asked()[0].wire)).formers_to_make is None
