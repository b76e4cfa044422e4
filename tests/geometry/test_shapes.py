"""A former's shape, and fret lines carried across: against the circle itself and the handbook's segments."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.former import former_for
from geometry.request import Board, Cutter, EndRadii, Jig, Request, TwoScales, Wire
from geometry.shapes import carried_across, reach_of_former, shape_former
from geometry.workout import work_out

JIG = Jig(span=900, end_clearance=60, rail_spacing=120, rail_diameter=20, rail_plane=110, riser=30)


def test_it_works():
    # Machinery's Handbook, "Segments of a Circle": r = 60, h = 8 has c = 59.86; the exact chord is 59.8665.
    shape = shape_former(60, 100, 59.8665 / 2)
    assert shape.half_width == 59.8665 / 2 and shape.missing == 0
    assert shape.shoulder == pytest.approx(100 - 8, abs=1e-4)
    assert shape.centre == (0, 40)
    assert shape.rise(59.8665) == pytest.approx(8, abs=1e-4)
    assert math.degrees(2 * shape.end_angle) == pytest.approx(59.86, abs=0.02)  # sin(a/2) = 29.933/60


def test_a_flat_board_has_a_straight_edge():
    for radius in (None, math.inf):
        shape = shape_former(radius, 90, 80)
        assert (shape.shoulder, shape.half_width, shape.end_angle, shape.missing) == (90, 80, 0, 0)
        assert shape.rise(160) == 0


def test_a_round_former_ends_at_its_quarter():
    shape = shape_former(50, 80, 70)
    assert shape.half_width == 50 and shape.missing == 20
    assert shape.shoulder == pytest.approx(30)


def test_an_arc_that_comes_down_to_the_bed_ends_there():
    shape = shape_former(100, 20, 90)
    # Machinery's Handbook: c = 2 sqrt(h (2r - h)) = 2 sqrt(20 * 180) = 120.
    assert shape.half_width == pytest.approx(60) and shape.missing == pytest.approx(30)
    assert shape.shoulder == pytest.approx(0, abs=1e-9)


@given(st.floats(10, 100_000), st.floats(0.1, 5000), st.floats(1, 3000))
def test_the_arc_ends_on_its_circle_and_above_the_bed(radius, apex, half_width):
    shape = shape_former(radius, apex, half_width)
    y, z = shape.half_width, shape.shoulder - shape.centre[1]
    assert math.hypot(y, z) == pytest.approx(radius, rel=1e-9, abs=1e-6)
    assert 0 <= shape.shoulder <= apex and 0 < shape.half_width <= min(half_width, radius)
    assert shape.half_width + shape.missing == pytest.approx(half_width)


@given(st.floats(50, 2000), st.floats(-0.5, 0.5), st.floats(0, 10))
def test_points_of_the_arc_lie_on_it_and_marks_stand_square_to_it(radius, angle, below):
    shape = shape_former(radius, 100, 40)
    y, z = shape.on_arc(angle, below)
    assert math.hypot(y, z - shape.centre[1]) == pytest.approx(radius - below, abs=1e-9)
    assert math.atan2(y, z - shape.centre[1]) == pytest.approx(angle, abs=1e-9)


@pytest.mark.parametrize("radius", [184.15, 304.8, 508.0])
def test_reach_is_that_of_the_exact_pair(radius):
    board = Board(648, 22, 43, 57, 8, 6, EndRadii(radius, radius))
    result = work_out(Request(board, Wire(1.6, 0.58), jig=JIG, cutter=Cutter(16, 2)))
    made = result.formers_to_make[0]
    assert (made.radius, made.apex) == pytest.approx(former_for(JIG, radius, 6.15))
    half_angle = math.radians(result.passes.half_angle_deg)
    assert reach_of_former(JIG, made.radius, half_angle) == pytest.approx(made.half_width, abs=1e-9)


def test_fret_lines_go_on_straight():
    board = Board(TwoScales(711, 660, 7), 24, 56, 76, 8, 6, None)
    for fret in work_out(Request(board, Wire(1.6, 0.58))).board.frets:
        (xb, yb), (xt, yt) = carried_across(fret, 50)
        assert (yb, yt) == (-50, 50)
        for x, y in (fret.bass, fret.treble):
            # Area of the triangle with both ends: none if it lies on the line.
            assert abs((xt - xb) * (y - yb) - (yt - yb) * (x - xb)) < 1e-9
