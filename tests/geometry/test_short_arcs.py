"""How much a short arc tells: 40 mm of a radius of 508 mm (20 in), read to 0.02 mm (standard deviation).

With n points spread evenly, rho the standard error of the curvature against the curvature itself, and R the radius:

    points    rho      radius unsure by    the biased fit reads too small by
       5      5.4 %        27.6 mm                     3 mm
       9      4.6 %        23.5 mm                     7 mm
      21      3.4 %        17.2 mm                    11 mm

So such an arc tells a 16 in former from a 20 in one, and not a worn one from a new one. The table is theory (own
derivation, below and in `geometry.circle.standard_errors`); the tests hold a seeded simulation against it.
"""

import math

import numpy as np
import pytest

from geometry.circle import fit_circle, standard_errors
from geometry.gauging import read_station

RADIUS, CHORD, NOISE, TRIALS = 508.0, 40.0, 0.02, 600
POINTS = (5, 9, 21)


def places(points):
    return np.linspace(-CHORD / 2, CHORD / 2, points)


def heights(y, radius=RADIUS):
    return np.sqrt(radius**2 - y**2) - radius


def rho(points):
    """By hand: sd(k) = 2 e / sqrt(S), S = sum of (y² - its mean)² = n (n²-1)(n²-4) h⁴/180."""
    h = CHORD / (points - 1)
    s = points * (points**2 - 1) * (points**2 - 4) * h**4 / 180
    return 2 * NOISE / math.sqrt(s) * RADIUS


def by_squares_of_the_equation(y, z):
    """Fit y² + z² = 2ay + 2bz + c, as is often done: linear, and biased."""
    (a, b, c), *_ = np.linalg.lstsq(np.column_stack([2 * y, 2 * z, np.ones(len(y))]), y**2 + z**2, rcond=None)
    return math.sqrt(c + a * a + b * b)


@pytest.fixture(scope="module")
def read():
    """Curvatures that both fits read off noisy arcs, by the number of points."""
    rng = np.random.default_rng(508)
    found = {}
    for points in POINTS:
        y = places(points)
        noisy = heights(y) + rng.normal(0, NOISE, (TRIALS, points))
        ours = np.array([1 / fit_circle(y, z).radius for z in noisy])
        theirs = np.array([1 / by_squares_of_the_equation(y, z) for z in noisy])
        found[points] = ours, theirs
    return found


@pytest.mark.parametrize("points", POINTS)
def test_the_standard_error_is_the_one_worked_out_by_hand(points):
    bend, _ = standard_errors(places(points), NOISE)
    assert bend * RADIUS == pytest.approx(rho(points), rel=1e-9)


def test_twice_the_chord_is_worth_sixteen_times_the_points():
    wide, many = (standard_errors(np.linspace(-w / 2, w / 2, n), NOISE)[0] for w, n in ((2000.0, 101), (1000.0, 1616)))
    assert wide == pytest.approx(many, rel=0.03)


@pytest.mark.parametrize("points", POINTS)
def test_spread_and_bias_are_what_theory_says(read, points):
    ours, _ = read[points]
    sd = rho(points) / RADIUS
    # The standard deviation of a standard deviation of N draws is 1/sqrt(2N) of it; four of them either way.
    assert np.std(ours, ddof=1) == pytest.approx(sd, rel=4 / math.sqrt(2 * TRIALS))
    # The curvature is read without bias; the radius, its reciprocal, by R rho² too large: 1 mm here.
    assert np.mean(ours) == pytest.approx(1 / RADIUS, abs=4 * sd / math.sqrt(TRIALS))
    radii = 1 / ours
    large = RADIUS * (1 + rho(points) ** 2)
    assert np.mean(radii) == pytest.approx(large, abs=4 * np.std(radii) / math.sqrt(TRIALS))


@pytest.mark.parametrize("points", POINTS)
def test_the_fit_by_squares_of_the_equation_reads_too_small(read, points):
    """Own derivation: noise in z dims its weight as a regressor, so the curvature comes out 1 + (n - 3) rho² too large.

    Let x be the relative error that the noise makes in the best curvature, of variance rho². The linear fit gives
    R (1 - x) / (1 - 2x + v) with v of mean (n - 2) rho²; its reciprocal has the mean (1 + (n - 3) rho²)/R.
    """
    ours, theirs = read[points]
    excess = RADIUS * (theirs - ours)
    dim = (points - 3) * rho(points) ** 2
    assert np.mean(excess) == pytest.approx(dim, abs=5 * np.std(excess) / math.sqrt(TRIALS) + 0.1 * dim)
    assert np.mean(theirs) > np.mean(ours)
    if points == 21:  # more readings do not help it: what is off is off more surely
        assert RADIUS * np.mean(theirs) - 1 > 3 * rho(points) / math.sqrt(TRIALS)


@pytest.mark.parametrize("points", POINTS)
def test_a_right_board_is_seldom_called_wrong_and_a_wrong_former_mostly(points):
    rng = np.random.default_rng(points)
    y = places(points)
    wrong_calls, found, errors = 0, 0, []
    trials = 200
    for _ in range(trials):
        noise = rng.normal(0, NOISE, points)
        right = read_station(list(zip(y, heights(y) + noise, strict=True)), RADIUS, reads_to=NOISE)
        wrong_calls += right.sure
        errors.append(right.radius_error)
        # 10 in formers for a 20 in board; where the scatter is told from two readings to spare it takes that.
        other = read_station(list(zip(y, heights(y, RADIUS / 2) + noise, strict=True)), RADIUS, reads_to=NOISE)
        found += other.sure
    # Five in a hundred by chance (97.5 % either way), fewer since the caliper's own error is the least assumed.
    assert wrong_calls <= 0.05 * trials + 3 * math.sqrt(0.05 * trials)
    assert found >= 0.95 * trials
    assert np.median(errors) == pytest.approx(rho(points) * RADIUS, rel=0.35)


def test_what_a_right_board_is_told():
    y = places(9)
    rng = np.random.default_rng(3)
    reading = read_station(list(zip(y, heights(y) + rng.normal(0, NOISE, 9), strict=True)), RADIUS, reads_to=NOISE)
    assert not reading.sure and reading.verdict == "pass"
    assert "as near to 508 mm as these points can tell" in reading.advice[0]
    assert any("Points so near together leave the radius unsure by" in words for words in reading.advice)
