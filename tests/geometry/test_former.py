"""One former on a jig, held against shapes that can be worked out by themselves."""

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.former import former_for, radius_cut, rail_plane_on, rails_touch
from geometry.request import Former, Jig

JIG = Jig(span=900, end_clearance=60, rail_spacing=120, rail_diameter=20, rail_plane=110, riser=30)


def test_the_rails_lie_where_two_circles_touch_an_arc() -> None:
    """By coordinates: circles of the rails' size, their middles g apart, each one touching the arc from outside."""
    former = Former("A", 300.0, 105.0)
    centre = former.apex - former.radius
    axis = rail_plane_on(JIG, former)
    assert math.hypot(60, axis - centre) == pytest.approx(300 + 10), "each middle is arc and rail away from the centre"
    touch = rails_touch(JIG, 300.0) / 2
    on_arc = (touch, centre + math.sqrt(300**2 - touch**2))
    assert math.dist(on_arc, (60, axis)) == pytest.approx(10), "and the point where they touch is a rail's half away"


def test_a_frame_that_rests_on_the_arc_itself() -> None:
    """Without rails (g = d = 0) the plane is the apex, and the former is the board's own curve raised by k."""
    plain = replace(JIG, rail_spacing=0, rail_diameter=0)
    assert rail_plane_on(plain, Former("A", 300.0, 105.0)) == pytest.approx(105)
    radius, apex = former_for(plain, 254, 6.2)
    assert apex == pytest.approx(110)
    assert radius == pytest.approx(254 + 110 - 36.4)  # concentric: the cutter hangs 110 - (30 + 0.2 + 6.2) below


@given(st.floats(184, 508), st.floats(4, 12), st.floats(0, 200), st.floats(0, 30), st.floats(90, 200))
def test_the_former_for_a_radius_cuts_it(radius: float, thickness: float, apart: float, rail: float, up: float) -> None:
    jig = replace(JIG, rail_spacing=apart, rail_diameter=min(rail, apart), rail_plane=up)
    former = Former("A", *former_for(jig, radius, thickness))
    assert radius_cut(jig, former, thickness) == pytest.approx(radius, abs=1e-9)
    assert rail_plane_on(jig, former) == pytest.approx(up, abs=1e-9)


def test_the_radius_follows_the_height_of_the_board() -> None:
    """Three mm more riser give three mm more radius (the pieces are concentric)."""
    former = Former("A", *former_for(JIG, 254, 6.15))
    assert radius_cut(replace(JIG, riser=33), former, 6.15) == pytest.approx(257)
