import math

import numpy as np
import pytest
from hypothesis import given

from geometry.errors import GeometryError
from geometry.surface import height_at, radius_at, radius_spanning, sagitta
from tests.geometry.samples import lengths, steady

# Segments of a circle of radius 1: degrees, height, chord. Computed from the relations of Machinery's Handbook
# (31st ed., p. 83, "Segments of a Circle"), to five decimals; its own printed table was not seen.
SEGMENTS = [
    *[(1, 0.00004, 0.01745), (5, 0.00095, 0.08724), (10, 0.00381, 0.17431), (15, 0.00856, 0.26105)],
    *[(20, 0.01519, 0.34730), (25, 0.02370, 0.43288), (30, 0.03407, 0.51764), (40, 0.06031, 0.68404)],
    *[(45, 0.07612, 0.76537), (50, 0.09369, 0.84524), (60, 0.13397, 1.00000), (70, 0.18085, 1.14715)],
    *[(80, 0.23396, 1.28558), (90, 0.29289, 1.41421), (100, 0.35721, 1.53209), (120, 0.50000, 1.73205)],
    *[(140, 0.65798, 1.87939), (150, 0.74118, 1.93185), (160, 0.82635, 1.96962), (180, 1.00000, 2.00000)],
]


@pytest.mark.parametrize(("degrees", "height", "chord"), SEGMENTS)
def test_handbook_segments(degrees, height, chord):
    exact = 2 * math.sin(math.radians(degrees) / 2)
    assert exact == pytest.approx(chord, abs=5e-6)
    assert sagitta(1.0, min(exact, 2.0)) == pytest.approx(height, abs=5e-6)


def test_handbook_printed_examples():
    # Machinery's Handbook, 31st ed., p. 83; the book rounds as it goes, so the gap is allowed for.
    assert sagitta(60, 59.86) == pytest.approx(8, abs=0.005)
    assert radius_spanning(16, 6) == pytest.approx(8 + 1 / 3, abs=1e-12)
    assert sagitta(12, 13.27) == pytest.approx(2, abs=0.002)
    # A mathematics program's printed manual: arc 1 at 45 degrees; chord 21 with height 6.
    assert sagitta(1.2732395, 0.97449536) == pytest.approx(0.096919589, abs=5e-8)
    assert radius_spanning(21, 6) == pytest.approx(12.1875, abs=1e-12)


@pytest.mark.parametrize(
    ("radius", "width", "expected"),
    [
        *[(184.15, 43, 1.259397), (241.3, 43, 0.959741), (254, 43, 0.911577), (304.8, 43, 0.759230)],
        *[(304.8, 56, 1.288814), (406.4, 56, 0.965714), (508, 56, 0.772241)],
    ],
)
def test_boards_of_the_trade(radius, width, expected):
    # Computed independently from R - sqrt(R² - w²/4).
    assert sagitta(radius, width) == pytest.approx(expected, abs=5e-7)
    parabola = width**2 / (8 * radius)
    assert 0 < 1 - parabola / expected < 0.0035


@steady
@given(lengths(20, 50_000), lengths(1, 40))
def test_sagitta_and_radius_undo_one_another(radius, width):
    assert radius_spanning(width, sagitta(radius, width)) == pytest.approx(radius, rel=1e-9)


@steady
@given(lengths(50, 5000), lengths(1, 90), lengths(0.01, 5))
def test_sagitta_grows_with_width_and_shrinks_with_radius(radius, width, more):
    assert sagitta(radius, width + more) > sagitta(radius, width)
    assert sagitta(radius + more, width) < sagitta(radius, width)


@steady
@given(lengths(40, 500), lengths(1, 70), lengths(0.1, 30))
def test_sagitta_does_not_mind_the_unit(radius, width, unit):
    assert sagitta(radius * unit, width * unit) == pytest.approx(unit * sagitta(radius, width), rel=1e-12)


def test_a_flat_board_is_the_limit_of_ever_larger_radii():
    falling = sagitta(10.0 ** np.arange(2, 151, 4), 57)
    assert (np.diff(falling) < 0).all()
    assert falling[-1] < 1e-140
    assert sagitta(np.inf, 57) == 0
    assert sagitta(np.inf, np.array([0, 57, 1000])).tolist() == [0, 0, 0]
    assert radius_spanning(57, 0) == np.inf


@pytest.mark.parametrize(("radius", "width"), [(20, 40.0001), (-300, 57), (math.nan, 57), (300, math.nan)])
def test_a_chord_wider_than_its_circle_is_an_error(radius, width):
    with pytest.raises(GeometryError, match="no circle spans"):
        sagitta(radius, width)
    with pytest.raises(GeometryError):
        sagitta([300, radius], width)
    assert sagitta(20, 40) == 20


def test_radius_is_linear_and_goes_on_past_the_ends():
    assert radius_at([-100, 0, 250, 500, 600], 254, 406.4, 500).tolist() == pytest.approx(
        [254 - 30.48, 254, 330.2, 406.4, 406.4 + 30.48]
    )
    assert radius_at([-10, 0, 500], 300, 300, 500).tolist() == [300, 300, 300]
    assert radius_at([-10, 0, 500], np.inf, np.inf, 500).tolist() == [np.inf] * 3


def test_the_surface_is_an_oblique_cone():
    """Every straight line from the cone's tip to a point of the heel's arc lies in the surface."""
    length, nut, heel, thickness = 480.0, 254.0, 406.4, 6.0
    tip = -nut * length / (heel - nut)  # where the radius is 0, and with it the whole circle
    for angle in np.radians([-7, -3, 0, 2, 6]):
        y, z = heel * math.sin(angle), thickness - heel * (1 - math.cos(angle))
        share = np.linspace(0.7, 1, 7)
        x = tip + share * (length - tip)
        on_line = thickness + share * (z - thickness)
        surface = height_at(x, share * y, thickness=thickness, nut_radius=nut, heel_radius=heel, length=length)
        assert surface == pytest.approx(on_line, abs=1e-10)


@steady
@given(lengths(100, 600), lengths(-20, 20), lengths(0, 500))
def test_a_cone_with_equal_ends_is_a_cylinder(radius, y, x):
    board = {"thickness": 6.0, "length": 500.0}
    cone = height_at(x, y, nut_radius=radius, heel_radius=radius * (1 + 1e-13), **board)
    cylinder = height_at(0, y, nut_radius=radius, heel_radius=radius, **board)
    assert cone == pytest.approx(cylinder, abs=1e-11)
    assert cylinder == height_at(x, -y, nut_radius=radius, heel_radius=radius, **board)
