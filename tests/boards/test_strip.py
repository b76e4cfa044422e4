"""The strip shows the state that the log says, to scale."""

from __future__ import annotations

import itertools
import math
import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boards.strip import StripState, draw_strip, words_for
from boards.strip.state import DONE_WORDS
from geometry.outline import outline
from geometry.request import BlankSize
from geometry.workout import work_out
from shop.drawings.svg import printable
from tests.shop.drawn import (
    BOARDS,
    COMPOUND,
    FANNED,
    HOSTILE,
    SVG,
    box,
    corners,
    ends,
    lines,
    lines_of,
    of_class,
    read,
    unit,
)

STAGES = list(DONE_WORDS)
CONDITIONS = ("active", "held", "scrapped")
SIZES = {"row": "screen", "page": "screen", "sheet": "paper", "label": "paper"}
ROUTES = {
    "usual": STAGES,
    "slots late": ["thicknessing", "radiusing", "slotting", "tapering", "gluing"],
    "radius on the neck": ["thicknessing", "slotting", "tapering", "gluing", "radiusing"],
    "bought slotted": ["slotting", "thicknessing", "radiusing", "tapering", "gluing"],
    "bought radiused": ["radiusing", "slotting", "tapering", "gluing"],
}
near = pytest.approx


def state(request=COMPOUND, done=(), condition="active"):
    blank = request.blank or BlankSize(500, 75, 8)
    return StripState.of(
        blank.length, blank.width, done=done, condition=condition, request=request, result=work_out(request)
    )


def drawn(*args, size="row", medium="screen", **kwargs):
    return read(draw_strip(state(*args, **kwargs), size=size, medium=medium))


def lines_only(svg):
    """The drawing without what is said about it."""
    root = read(svg)
    for tag in ("title", "desc"):
        root.remove(root.find(SVG + tag))
    return b"".join(part for part in map(_bytes, root))


def _bytes(element):
    from xml.etree import ElementTree as ET

    return ET.tostring(element)


@pytest.mark.parametrize("board", [None, *BOARDS])
@pytest.mark.parametrize("route", ROUTES)
def test_every_state_along_a_route_draws_distinct(route, board):
    seen = {}
    for count, condition in itertools.product(range(len(ROUTES[route]) + 1), CONDITIONS):
        done = ROUTES[route][:count]
        shown = (
            state(BOARDS[board], done, condition) if board else StripState.of(520, 70, done=done, condition=condition)
        )
        svg = draw_strip(shown)
        lines = lines_only(svg)
        assert lines not in seen, (done, condition, seen[lines])
        seen[lines] = (done, condition)
        assert read(svg).find(SVG + "title").text == words_for(shown)


def test_everything_short_of_tapering_draws_distinct():
    """Once tapered the hatched ends are gone, so what went before shows no more; until then every mark stands alone."""
    subsets = [done for n in range(4) for done in itertools.combinations(["thicknessing", "slotting", "radiusing"], n)]
    drawings = {lines_only(draw_strip(state(COMPOUND, done, c))) for done in subsets for c in CONDITIONS}
    assert len(drawings) == len(subsets) * len(CONDITIONS) == 24


@pytest.mark.parametrize(("board", "size"), list(itertools.product(BOARDS, SIZES)))
def test_frets_lie_where_geometry_has_them(board, size):
    request = BOARDS[board]
    frets = work_out(request).board.frets[1:]
    for done in (["slotting"], ["slotting", "tapering"], STAGES):
        slots = lines(drawn(request, done, size=size), "slot")
        assert len(slots) == len(frets)
        for slot, fret in zip(slots, frets, strict=True):
            (x1, y1), (x2, y2) = slot
            at = x1 + (x2 - x1) * (0 - y1) / (y2 - y1)
            (xb, yb), (xt, yt) = fret.bass, fret.treble
            assert at == near(xb - (xt - xb) / (yt - yb) * yb, abs=2e-3)
            assert (x2 - x1) / (y2 - y1) == near((xt - xb) / (yt - yb), abs=1e-4)


def test_straight_frets_lie_at_their_distance_and_run_across_the_blank():
    line = lines(drawn(COMPOUND, ["slotting"]), "slot")[11]
    assert line == ((near(647.7 / 2, abs=1e-3), near(-35)), (near(647.7 / 2, abs=1e-3), near(35)))


@pytest.mark.parametrize("board", BOARDS)
def test_wood_has_the_outline_of_its_stage(board):
    """The blank until it is tapered, then proud of the board by the allowance, then the board itself."""
    request = BOARDS[board]
    result, asked = work_out(request), request.board
    shown = state(request)
    (x0, y0), _, (x1, y1), _ = corners(of_class(drawn(request), "ground")[0])
    assert (x1 - x0, y1 - y0) == (near(shown.length, abs=2e-3), near(shown.width, abs=2e-3))
    for done, edge in (("tapering", request.allowances.edge), ("gluing", 0.0)):
        expected = outline(result.board, asked.nut_width, asked.heel_width, nut_ledge=asked.nut_ledge, edge=edge)
        assert corners(of_class(drawn(request, [done]), "ground")[0]) == [near(c, abs=1e-3) for c in expected]


def test_hatched_ends_are_what_will_be_cut_off():
    result, root = work_out(COMPOUND), drawn(COMPOUND, ["thicknessing"])
    head = [x for x, _ in _hatched(of_class(root, "hatch")[0])]
    heel = [x for x, _ in _hatched(of_class(root, "hatch")[1])]
    assert min(head) == near(-COMPOUND.allowances.end, abs=2e-3) and max(head) == near(0, abs=2e-3)
    assert min(heel) == near(result.board.length, abs=2e-3)
    assert max(heel) == near(COMPOUND.blank.length - COMPOUND.allowances.end, abs=2e-3)
    (proving,) = of_class(root, "proving")
    assert ends(proving)[0][0] == near(result.board.length + COMPOUND.allowances.end, abs=1e-3)


def _hatched(path):
    return [(float(x), -float(y)) for x, y in re.findall(r"[ML](-?[\d.]+) (-?[\d.]+)", path.get("d"))]


@pytest.mark.parametrize("board", BOARDS)
def test_end_view_has_the_curve_of_the_heel(board):
    """Its sagitta over its width is that of a circle of the board's radius, heights times three."""
    request = BOARDS[board]
    (path,) = of_class(drawn(request, STAGES), "end-view")
    assert of_class(drawn(request, STAGES[:2]), "end-view") == []
    arc = re.search(r"A(\S+) (\S+) 0 0 1", path.get("d"))
    if request.board.radius is None:
        assert arc is None
        return
    rx, ry = map(float, arc.groups())
    x0 = float(re.match(r"M(\S+) ", path.get("d"))[1])
    x1 = float(re.search(r"0 0 1 (\S+) ", path.get("d"))[1])
    assert ry / rx == near(3, rel=1e-4)
    assert rx / (x1 - x0) == near(request.board.radius.heel / request.board.heel_width, rel=1e-3)


@pytest.mark.parametrize(("size", "medium"), SIZES.items())
def test_blanks_of_one_list_are_of_one_scale(size, medium):
    """A longer blank is drawn longer, unless it would not fit at all."""
    short, long = (read(draw_strip(StripState.of(length, 65), size=size, medium=medium)) for length in (450, 540))
    assert unit(short) == near(unit(long))
    assert (short.get("width"), short.get("height")) == (long.get("width"), long.get("height"))
    lengths = [
        max(x for x, _ in xs) - min(x for x, _ in xs)
        for xs in (corners(of_class(r, "ground")[0]) for r in (short, long))
    ]
    assert lengths == [near(450), near(540)]


@given(
    length=st.floats(100, 2000),
    width=st.floats(20, 200),
    done=st.sets(st.sampled_from(STAGES)),
    condition=st.sampled_from(CONDITIONS),
    size=st.sampled_from(list(SIZES)),
)
def test_a_strip_of_any_blank_stays_in_its_frame(length, width, done, condition, size):
    root = read(draw_strip(StripState.of(length, width, done=done, condition=condition), size=size, medium=SIZES[size]))
    _inside(root)


@pytest.mark.parametrize(("board", "condition", "size"), list(itertools.product(BOARDS, CONDITIONS, SIZES)))
def test_a_strip_of_any_board_stays_in_its_frame(board, condition, size):
    for count in range(6):
        root = drawn(BOARDS[board], STAGES[:count], condition, size=size, medium=SIZES[size])
        _inside(root)
        for element in root.iter():
            assert not {"style", "id"} & set(element.attrib)


def _inside(root):
    """Every corner and line end lies in the frame, the fallen half of a broken blank moved as it is drawn."""
    left, top, width, height = box(root)
    fallen = {id(child) for group in of_class(root, "fallen") for child in group.iter()}
    for element in root.iter():
        at = [(x, -y) for x, y in corners(element)] if element.get("points") else []
        if element.tag == SVG + "line":
            at = [(x, -y) for x, y in ends(element)]
        if element.get("class") in ("slot", "hatch"):
            at = [(x, -y) for line in lines_of(element) for x, y in line]
        for x, y in at:
            if id(element) in fallen:
                x, y = _fall(of_class(root, "fallen")[0].get("transform"), x, y)
            assert left <= x <= left + width and top <= y <= top + height, (element.tag, element.attrib, x, y)


def _fall(transform, x, y):
    dx, dy, degrees, cx, cy = map(float, re.findall(r"-?[\d.]+", transform))
    turn = math.radians(degrees)
    x, y = x - cx, y - cy
    return (
        dx + cx + x * math.cos(turn) - y * math.sin(turn),
        dy + cy + x * math.sin(turn) + y * math.cos(turn),
    )


@pytest.mark.parametrize(
    ("done", "condition", "said"),
    [
        ([], "active", "As it came in"),
        (["thicknessing"], "active", "Thicknessed"),
        (["slotting", "thicknessing"], "active", "Thicknessed and slotted"),
        (STAGES, "active", "Thicknessed, slotted, radiused, tapered and glued"),
        (["thicknessing"], "held", "Held, thicknessed"),
        ([], "scrapped", "Scrapped, as it came in"),
    ],
)
def test_words_say_what_is_drawn(done, condition, said):
    assert words_for(StripState.of(520, 70, done=done, condition=condition)) == said


def test_a_screen_reader_hears_whose_strip_it_is():
    root = read(draw_strip(state(COMPOUND, ["thicknessing"]), name="Blank 117"))
    assert root.get("role") == "img" and root.find(SVG + "title").text == "Blank 117: thicknessed"
    hostile = read(draw_strip(state(), name=HOSTILE))
    assert hostile.find(SVG + "title").text == printable(f"{HOSTILE}: as it came in")
    assert not list(hostile.iter(SVG + "script"))


def test_paper_is_black_on_white_with_lines_that_a_copier_keeps():
    for board, count, condition in itertools.product(BOARDS, range(6), CONDITIONS):
        root = drawn(BOARDS[board], STAGES[:count], condition, size="label", medium="paper")
        for element in root.iter():
            assert float(element.get("stroke-width", root.get("stroke-width"))) / unit(root) >= 0.2
            assert {element.get("fill", "none"), element.get("stroke", "none")} <= {"none", "#000", "#fff"}


def test_the_database_s_decimals_will_do():
    given_decimals = StripState.of(Decimal("520.000000"), Decimal("70.000000"), done=["thicknessing"])
    assert given_decimals == StripState.of(520, 70, done=["thicknessing"])
    assert "520 by 70 mm" in read(draw_strip(given_decimals)).find(SVG + "desc").text


def test_a_fanned_board_keeps_its_slanted_head():
    body = corners(of_class(drawn(FANNED, ["tapering"]), "ground")[0])
    assert body[1][0] - body[0][0] > 10
