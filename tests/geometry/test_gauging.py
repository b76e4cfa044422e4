import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.circle import _least_squares_of_equation
from geometry.errors import GeometryError
from geometry.gauge_contract import answer
from geometry.gauging import Corners, fit_circle, read_corners, read_station
from geometry.surface import sagitta
from tests.geometry.samples import lengths, steady

# Gander, Golub & Strebel, "Least-squares fitting of circles and ellipses", BIT 34 (1994) 558-578: six points, whose
# use as the circle example is from memory; the geometric fit's figures were confirmed by computation.
SIX = [(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)]
EIGHT = [*SIX, (6, 2), (8, 4)]


def arc(radius, offset=0.0, apex=6.0, half=25.0, points=9):
    y = np.linspace(-half, half, points)
    return y, apex - radius + np.sqrt(radius**2 - (y - offset) ** 2)


def test_published_geometric_fit():
    circle = fit_circle(*zip(*SIX, strict=True))
    assert (circle.y, circle.z, circle.radius) == pytest.approx((4.739782, 2.983533, 4.714226), abs=1e-6)
    assert circle.max_residual == pytest.approx(0.773759, abs=1e-6)
    assert 6 * circle.rms**2 == pytest.approx(1.227599, abs=1e-6)


def test_eight_points():
    # Computed independently: the published figures for the eight points are for an ellipse.
    circle = fit_circle(*zip(*EIGHT, strict=True))
    assert (circle.y, circle.z, circle.radius) == pytest.approx((4.840141, 4.797126, 3.390682), abs=1e-6)
    assert 8 * circle.rms**2 == pytest.approx(2.314114, abs=1e-6)


# The other fits of the same points: the paper's algebraic one (from memory, confirmed by computation), and the linear
# one (computed independently): centre, radius, and the sum of squared distances that each leaves.
OTHER_FITS = [
    (SIX, "algebraic", (5.379413, 7.253198, 3.037041), 10.853282),
    (SIX, "linear", (4.742331, 3.835123, 4.108762), 1.398289),
    (EIGHT, "algebraic", (5.121345, 5.427496, 3.242808), None),
    (EIGHT, "linear", (4.821894, 4.898677, 3.407858), None),
]


@pytest.mark.parametrize(("points", "kind", "figures", "squares"), OTHER_FITS)
def test_other_published_fits_leave_more(points, kind, figures, squares):
    y, z = (np.array(v, float) for v in zip(*points, strict=True))
    if kind == "linear":  # it is where ours starts from
        found = _least_squares_of_equation(np.column_stack([y, z]))
    else:  # a (y² + z²) + b y + c z + d = 0 with a² + b² + c² + d² = 1
        a, b, c, d = np.linalg.svd(np.column_stack([y**2 + z**2, y, z, np.ones_like(y)]))[2][-1]
        found = -b / (2 * a), -c / (2 * a), math.sqrt((b * b + c * c) / (4 * a * a) - d / a)
    assert found == pytest.approx(figures, abs=1e-5)
    left = np.sum((np.hypot(y - found[0], z - found[1]) - found[2]) ** 2)
    if squares:
        assert left == pytest.approx(squares, abs=1e-4)
    assert len(y) * fit_circle(y, z).rms ** 2 < left


def test_no_circle_near_by_is_better():
    circle = fit_circle(*zip(*SIX, strict=True))
    y, z = (np.array(v, float) for v in zip(*SIX, strict=True))
    best = 6 * circle.rms**2
    for move in np.eye(3)[[0, 0, 1, 1, 2, 2]] * np.array([[1], [-1]] * 3) * 1e-3:
        near = np.hypot(y - circle.y - move[0], z - circle.z - move[1]) - circle.radius - move[2]
        assert np.sum(near**2) > best


@steady
@given(lengths(100, 1500), lengths(-5, 5), lengths(3, 9), lengths(10, 40), st.integers(3, 30))
def test_points_on_a_circle_give_it_back(radius, offset, apex, half, points):
    circle = fit_circle(*arc(radius, offset, apex, half, points))
    assert circle.radius == pytest.approx(radius, rel=1e-6)
    assert circle.y == pytest.approx(offset, abs=1e-5)
    assert circle.z + circle.radius == pytest.approx(apex, abs=1e-9)
    assert circle.rms < 1e-9


def test_short_arcs_are_not_read_too_small():
    """A fit by squares of the equation is biased to small radii on a short arc; this one is not."""
    rng = np.random.default_rng(7)
    y, z = arc(300.0, half=20.0, points=11)
    matrix = np.column_stack([2 * y, 2 * z, np.ones(11)])
    bends, biased = [], []
    for _ in range(400):
        noisy = z + rng.normal(0, 0.02, 11)
        bends.append(1 / fit_circle(y, noisy).radius)
        matrix[:, 1] = 2 * noisy
        a, b, c = np.linalg.lstsq(matrix, y**2 + noisy**2, rcond=None)[0]
        biased.append(1 / math.sqrt(c + a * a + b * b))
    spread = np.std(bends) / math.sqrt(400)
    assert np.mean(bends) == pytest.approx(1 / 300, abs=4 * spread)
    tighter = np.array(biased) - np.array(bends)
    assert np.mean(tighter) > 4 * np.std(tighter) / math.sqrt(400)


@steady
@given(lengths(150, 600), lengths(-3, 3), lengths(-500, 500), lengths(0.04, 25.4))
def test_the_fit_does_not_mind_where_it_lies_or_the_unit(radius, offset, away, unit):
    y, z = arc(radius, offset)
    z = z + 0.01 * np.cos(7 * y)
    here, there = fit_circle(y, z), fit_circle(unit * (y + away), unit * (z - away))
    assert there.radius == pytest.approx(unit * here.radius, rel=1e-5)
    assert there.y == pytest.approx(unit * (here.y + away), abs=1e-4 * unit)
    assert there.rms == pytest.approx(unit * here.rms, rel=1e-4)


def test_a_hollow_board_is_called_hollow():
    y, z = arc(300.0)
    reading = read_station(list(zip(y, 12 - z, strict=True)), 300.0)
    assert reading.radius == pytest.approx(300)
    assert reading.apex == pytest.approx(6)
    assert any("hollow" in words for words in reading.advice)


@pytest.mark.parametrize("points", [[], [(0, 5)], [(0, 5), (10, 6)], [(0, 5), (10, 6), (0, 5)], [(3, 5)] * 6])
def test_fewer_than_three_points(points):
    with pytest.raises(GeometryError, match="three points in different places"):
        read_station(points)


@pytest.mark.parametrize("slope", [0.0, 0.1, 1e6])
def test_points_on_a_line(slope):
    with pytest.raises(GeometryError, match="straight line"):
        read_station([(y, 5 + slope * y) for y in (-20, -5, 0, 11, 20)])
    with pytest.raises(GeometryError, match="straight line"):
        read_station([(5, z) for z in (1, 2, 4)])


def test_advice_says_what_would_help():
    def advice(radius, offset=0.0, wanted=254.0):
        return read_station(list(zip(*arc(radius, offset), strict=True)), wanted).advice

    assert advice(254.0) == ("The radius reads 254 mm, as near to 254 mm as these points can tell.",)
    assert advice(250.0) == (
        "The radius reads 250 mm, 4 mm tighter than 254 mm. "
        "The board lying 4 mm higher, with the cutter set again, would put it right.",
    )
    assert "flatter than 254 mm. Other formers" in advice(300.0)[0]
    off = advice(254.0, -1.5)[1]
    assert off.startswith("The middle of the curve lies 1.5 mm towards the bass. Either")
    assert "leans by 0.34°" in off


def test_three_points_cannot_tell_how_well_they_agree():
    assert "five or more" in read_station(list(zip(*arc(254.0, points=3), strict=True))).advice[0]


def test_scattered_points_are_not_trusted_too_far():
    y, z = arc(254.0)
    scattered = z + 0.03 * np.array([1, -1, 1, -1, 1, -1, 1, -1, 1])
    assert (
        "as near to 260 mm as these points can tell"
        in read_station(list(zip(y, scattered, strict=True)), 260.0).advice[0]
    )


@steady
@given(lengths(184, 508), lengths(184, 508), lengths(50, 80), lengths(-1.5, 1.5), lengths(-1.5, 1.5))
def test_four_corners_tell_how_far_the_curve_is_off(head, heel, width, off_head, off_heel):
    """Set a curve off centre exactly, measure the corners, and read the offset back to its first order."""

    def sides(radius, off):
        return [6 - float(sagitta(radius, 2 * abs(side * width / 2 - off))) for side in (-1, 1)]

    reading = read_corners(Corners(*sides(head, off_head), *sides(heel, off_heel)), width, 500, (head, heel), 0.05)
    assert reading.head_offset == pytest.approx(off_head, rel=0.04, abs=1e-9)
    assert reading.heel_offset == pytest.approx(off_heel, rel=0.04, abs=1e-9)
    assert reading.skew_deg == pytest.approx(math.degrees((off_heel - off_head) / 500), abs=0.02)
    worst = max(abs(a - b) for a, b in (sides(head, off_head), sides(heel, off_heel)))
    assert reading.passed == (worst <= 0.05)
    assert bool(reading.advice) == (not reading.passed)


def test_a_leaning_board_looks_like_one_off_centre():
    lean, width, radius = math.radians(0.2), 63.0, 254.0
    edge = 6 - float(sagitta(radius, width))
    corners = Corners(*[edge - lean * width / 2, edge + lean * width / 2] * 2)
    reading = read_corners(corners, width, 500, (radius, radius), 0.1)
    assert reading.head_offset == pytest.approx(radius * lean)
    assert "leans by 0.20°" in reading.advice[0] and "its bass side too far out" in reading.advice[0]
    assert reading.skew_deg == 0 and len(reading.advice) == 2


def asked(request):
    text, code = answer(json.dumps(request))
    return json.loads(text), code


CORNERS = {
    "corners": {"head_bass": 5.1, "head_treble": 5.3, "heel_bass": 5.2, "heel_treble": 5.2},
    **{"width": 70, "length": 520, "radius": {"head": 254, "heel": 300}, "tolerance": 0.1},
}


def test_the_command_reads_points():
    y, z = arc(254.0, 0.3)
    found, code = asked({"points": list(zip(y, z, strict=True)), "radius": "10 in"})
    assert code == 0
    assert list(found) == ["radius", "offset", "apex", "rms", "max_residual", "advice"]
    assert (found["radius"], found["offset"], found["apex"]) == pytest.approx((254, 0.3, 6))
    with_units, code = asked({"points": [["-1 in", "5 mm"], [0, "6 mm"], ["1 in", 5]]})
    assert code == 0 and with_units["radius"] == pytest.approx((50.8**2 + 4) / 8)


def test_the_command_reads_corners():
    found, code = asked(CORNERS)
    assert code == 0
    assert list(found) == ["head_offset", "heel_offset", "skew_deg", "pass", "advice"]
    assert found["head_offset"] == pytest.approx(0.2 * 254 / 70)
    assert found["pass"] is False
    assert asked([CORNERS, {**CORNERS, "tolerance": 0.2}])[0][1]["pass"] is True


@pytest.mark.parametrize(
    ("request_", "field"),
    [
        ({}, ""),
        (7, ""),
        ({"points": [[0, 1], [1, 2]]}, "points"),
        ({"points": [[0, 1], [1, 2], [2, 3]]}, "points"),
        ({"points": "none"}, "points"),
        ({"points": [[0, 1], [1, 2], [2]]}, "points[2]"),
        ({"points": [[0, 1], [1, "high"], [2, 0]]}, "points[1][1]"),
        ({"points": [[0, 1], [1, None], [2, 0]]}, "points[1][1]"),
        ({"points": [[0, 1], [1, 2], [2, 0]], "colour": 1}, "colour"),
        ({"points": [[0, 1], [1, 2], [2, 0]], "radius": 0}, "radius"),
        ({**CORNERS, "width": -1}, "width"),
        ({**CORNERS, "width": 600}, "radius.head"),
        ({**CORNERS, "radius": 254}, "radius"),
        ({**CORNERS, "corners": {}}, "corners.head_bass"),
        ({**CORNERS, "colour": 1}, "colour"),
        ({name: value for name, value in CORNERS.items() if name != "tolerance"}, "tolerance"),
    ],
)
def test_bad_readings_are_said_in_words(request_, field):
    found, code = asked(request_)
    assert code == 2
    assert field in {error["field"] for error in found["errors"]}
    assert all(error["message"].endswith(".") for error in found["errors"])


@steady
@given(
    st.fixed_dictionaries(
        {},
        optional={
            "points": st.lists(
                st.lists(st.one_of(st.floats(), st.integers(), st.text(max_size=4)), max_size=3), max_size=6
            ),
            "radius": st.one_of(
                st.floats(), st.none(), st.dictionaries(st.sampled_from(["head", "heel"]), st.floats())
            ),
            "corners": st.one_of(st.none(), st.just(CORNERS["corners"])),
            "width": st.floats(),
        },
    )
)
def test_anything_at_all_gets_an_answer(request_):
    text, code = answer(json.dumps(request_))
    assert code in (0, 2)
    json.loads(text, parse_constant=pytest.fail)


@steady
@given(st.lists(st.tuples(lengths(-40, 40), lengths(-10, 10)), min_size=3, max_size=12, unique=True))
def test_any_points_give_finite_figures_or_words(points):
    try:
        reading = read_station(points, 254.0)
    except GeometryError:
        return
    assert all(math.isfinite(v) for v in (reading.radius, reading.offset, reading.apex, reading.rms))
