import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.passes import depth_levels, lay_fan, widest_step
from geometry.request import Cutter, EndRadii
from geometry.workout import work_out
from tests.geometry.samples import CUTTER, ask, lengths, requests, steady


def one_fan(head, heel, width, cutter, scallop):
    return lay_fan((np.array([head]), np.array([heel])), np.array([width]), np.array([cutter]), np.array([scallop]))


@pytest.mark.parametrize(
    ("radius", "step", "ridge"),
    # Turning: a tool of nose radius r fed f leaves r - sqrt(r² - (f/2)²), about f²/8r (general machining pages). The
    # ridge between two flats on a round is the same figure turned inside out, and f²/8R again for small steps.
    [(184.15, 10, 0.0679), (254, 10, 0.0492), (304.8, 16, 0.1050), (406.4, 16, 0.0787)],
)
def test_a_ridge_is_about_the_step_squared_over_eight_radii(radius, step, ridge):
    angle = step / radius
    height = radius * (1 / math.cos(angle / 2) - 1)
    assert step**2 / (8 * radius) == pytest.approx(ridge, abs=5e-5)
    assert height == pytest.approx(step**2 / (8 * radius), rel=1e-3)
    assert widest_step(np.array(radius), np.array(1e6), np.array(height)) == pytest.approx(angle, rel=1e-12)


def test_a_flat_facet_is_the_limit_of_a_ball_on_a_convex_board():
    # The ridge that a ball of radius r leaves on a convex round, two derivations agreeing to eight digits, R 304.8,
    # r 3, d 1: 0.04238202. With r growing without bound it becomes the ridge between flats.
    def ball(radius, r, d):
        t = d / (2 * radius)
        return (radius + r) * math.sqrt(1 - t * t) - math.sqrt(r * r - ((radius + r) * t) ** 2) - radius

    assert ball(304.8, 3, 1) == pytest.approx(0.04238202, abs=5e-9)
    assert ball(508, 6, 2) == pytest.approx(0.08493290, abs=5e-9)
    flats = 304.8 * (1 / math.cos(2 * math.asin(10 / 609.6) / 2) - 1)
    assert ball(304.8, 1e7, 10) == pytest.approx(flats, rel=2e-3)


def test_the_fan_of_a_cylinder_by_hand():
    fan = one_fan(254.0, 254.0, 63.0, 16.0, 0.05)
    half = math.asin(31.5 / 254)
    widest = 2 * math.acos(254 / 254.05)
    assert fan.half_angle[0] == pytest.approx(half)
    assert fan.count[0] == 7 and 2 * half / 5 > widest > 2 * half / 7
    assert fan.step[0] == pytest.approx(2 * half / 7)
    assert fan.scallop[0] == pytest.approx(254 * (1 / math.cos(half / 7) - 1))


def test_a_narrow_cutter_has_to_cover():
    wide, narrow = one_fan(254.0, 254.0, 63.0, 32.0, 2.0), one_fan(254.0, 254.0, 63.0, 6.0, 2.0)
    assert wide.count[0] == 3
    assert narrow.count[0] == 11
    assert 2 * 254 * math.tan(narrow.step[0] / 2) <= 6 < 2 * 254 * math.tan(narrow.half_angle[0] / 9)


def test_a_cone_takes_each_rule_where_it_binds():
    cone = one_fan(250.0, 410.0, 63.0, 12.0, 0.05)
    assert cone.half_angle[0] == pytest.approx(math.asin(31.5 / 250))
    assert cone.scallop[0] == pytest.approx(410 * (1 / math.cos(cone.step[0] / 2) - 1))
    assert 2 * 410 * math.tan(cone.step[0] / 2) <= 12
    assert (one_fan(410.0, 250.0, 63.0, 12.0, 0.05).step == cone.step).all()


@steady
@given(lengths(80, 600), lengths(80, 600), lengths(30, 120), lengths(3, 40), lengths(0.002, 0.5))
def test_the_count_is_the_least_odd_one_that_keeps_both_rules(head, heel, width, cutter, scallop):
    fan = one_fan(head, heel, width, cutter, scallop)
    largest, count = max(head, heel), fan.count[0]

    def keeps(n):
        step = 2 * fan.half_angle[0] / n
        covered = 2 * largest * math.tan(step / 2) <= cutter * (1 + 1e-9)
        return covered and largest * (1 / math.cos(step / 2) - 1) <= scallop * (1 + 1e-9) + 1e-13

    assert count % 2 == 1
    assert keeps(count)
    assert count == 1 or not keeps(count - 2)


@steady
@given(requests.map(lambda request: replace(request, cutter=request.cutter or CUTTER)))
def test_passes_are_symmetric_and_deepen_outwards(request):
    fan = work_out(request).passes
    numbers = [p.number for p in fan.list]
    middle = fan.count // 2
    assert numbers == list(range(-middle, middle + 1))
    for left, right in zip(fan.list, reversed(fan.list), strict=True):
        assert left.angle_deg == -right.angle_deg
        assert left.depth == right.depth
    depths = [p.depth for p in fan.list[middle:]]
    assert depths == sorted(depths)
    assert depths[0] >= request.allowances.skim - 1e-12
    assert fan.depth_levels == max(1, math.ceil(max(depths) / request.cutter.max_depth - 1e-9))
    assert fan.scallop <= request.scallop_max * (1 + 1e-9)


def test_the_outermost_pass_reaches_the_edge_of_the_blank():
    request = ask(radius=EndRadii(254.0, 254.0), cutter=CUTTER)
    result = work_out(request)
    edge = 254 - (254**2 - 31.5**2) ** 0.5
    assert result.passes.list[-1].depth == pytest.approx(0.15 + edge)
    assert 254 * math.sin(math.radians(result.passes.half_angle_deg)) == pytest.approx(31.5)


def test_a_flat_board_is_cut_in_parallel_strokes():
    fan = work_out(ask(radius=None, cutter=CUTTER)).passes
    assert (fan.count, fan.step_deg, fan.half_angle_deg, fan.scallop, fan.depth_levels) == (5, 0, 0, 0, 1)
    assert [p.head_square for p in fan.list] == pytest.approx([-25.2, -12.6, 0, 12.6, 25.2])
    assert all(p.head_square == p.heel_square == p.head_arc == p.heel_arc for p in fan.list)
    assert {p.depth for p in fan.list} == {0.15}
    assert {p.angle_deg for p in fan.list} == {0}


def test_a_very_large_radius_tends_to_parallel_strokes():
    round_, flat = (
        work_out(ask(radius=radius, cutter=CUTTER)).passes for radius in (EndRadii(50_000.0, 50_000.0), None)
    )
    assert round_.count == flat.count
    for arc, stroke in zip(round_.list, flat.list, strict=True):
        assert 50_000 * math.radians(arc.angle_deg) == pytest.approx(stroke.head_square, abs=1e-4)
        assert arc.depth == pytest.approx(stroke.depth, abs=0.02)


@given(st.floats(0.01, 20), st.integers(1, 9))
@steady
def test_levels_keep_every_bite_within_the_cutter(bite, levels):
    deepest = bite * levels
    assert depth_levels(np.array([deepest]), np.array([bite]))[0] == levels
    assert depth_levels(np.array([deepest * 1.001]), np.array([bite]))[0] == levels + 1


def test_no_cutter_no_passes():
    assert work_out(ask()).passes is None
    assert work_out(ask(cutter=Cutter(16.0, 3.0))).passes is not None
