"""Control charts against integration, simulation and a published example."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.control import D2, D3, D4, E2, individuals, moving_range, rules_hit
from geometry.errors import GeometryError


def normal_cdf(x: np.ndarray) -> np.ndarray:
    return 0.5 * (1 + np.vectorize(math.erf)(x / math.sqrt(2)))


def range_moments(n: int) -> tuple[float, float]:
    """Mean and deviation of the range of n normal readings, from its distribution.

    L. H. C. Tippett, Biometrika 17 (1925): P(W <= w) = n ∫ φ(x) [Φ(x + w) − Φ(x)]^(n−1) dx; both integrals by
    Simpson's rule, on a grid that carries far beyond any digit that is compared.
    """

    def simpson(y: np.ndarray, h: float) -> np.ndarray:
        weights = np.ones(y.shape[-1])
        weights[1:-1:2], weights[2:-1:2] = 4, 2
        return (y * weights).sum(axis=-1) * h / 3

    x, w = np.linspace(-8, 8, 1601), np.linspace(0, 16, 801)
    pdf, cdf = np.exp(-(x**2) / 2) / math.sqrt(2 * math.pi), normal_cdf(x)
    far = normal_cdf(x[None] + w[:, None])
    above = 1 - n * simpson(pdf * (far - cdf) ** (n - 1), x[1] - x[0])
    mean, square = simpson(above, w[1] - w[0]), simpson(2 * w * above, w[1] - w[0])
    return float(mean), math.sqrt(square - mean**2)


def test_the_factors_follow_from_the_distribution_of_the_range():
    d2, d3 = range_moments(2)
    assert pytest.approx(d2, abs=1e-6) == D2
    assert pytest.approx(max(1 - 3 * d3 / d2, 0), abs=1e-6) == D3
    assert pytest.approx(1 + 3 * d3 / d2, abs=1e-6) == D4
    assert pytest.approx(3 / d2, abs=1e-6) == E2


def test_the_integration_itself_gives_the_classical_tables():
    # d2 and d3 for n = 2, 3, 5, 10, as in the tables of ASTM E2587 and of Montgomery's appendix (from memory).
    table = {2: (1.128, 0.853), 3: (1.693, 0.888), 5: (2.326, 0.864), 10: (3.078, 0.797)}
    for n, (d2, d3) in table.items():
        assert range_moments(n) == pytest.approx((d2, d3), abs=6e-4)


def test_the_factors_are_those_of_the_tables():
    # 2.66 = 3 / 1.128 and 3.267 (ASTM E2587; Montgomery, from memory).
    assert (round(D2, 3), round(D4, 3), round(E2, 2)) == (1.128, 3.267, 2.66)


def test_the_factors_by_simulation():
    pairs = np.random.default_rng(1931).standard_normal((1_000_000, 2))
    ranges = np.abs(pairs[:, 0] - pairs[:, 1])
    # Four standard errors of each: 0.8525 / 1000 of the mean, about 0.0009 of the deviation.
    assert ranges.mean() == pytest.approx(D2, abs=4 * 0.00086)
    assert 1 + 3 * ranges.std() / ranges.mean() == pytest.approx(D4, abs=0.012)
    assert ranges.mean() - 3 * ranges.std() < 0, "so that the lower limit is 0"


def test_viscosity_of_primer_paint():
    # D. C. Montgomery, Introduction to Statistical Quality Control, the example of individuals: 15 batches; centre
    # 33.52, limits 34.80 and 32.24, mean moving range 0.48, its limit 1.57. Data and answers from memory; the sums
    # below them are done by hand as well, so that nothing hangs on that alone.
    batches = [33.75, 33.05, 34.00, 33.81, 33.46, 34.02, 33.68, 33.27, 33.49, 33.20, 33.62, 33.00, 33.54, 33.12, 33.84]
    chart = individuals(batches)
    mean_range = sum(abs(after - before) for before, after in zip(batches, batches[1:], strict=False)) / 14
    assert chart.centre == pytest.approx(sum(batches) / 15)
    assert chart.mean_range == pytest.approx(mean_range)
    assert chart.high == pytest.approx(sum(batches) / 15 + 3 * mean_range / 1.128, abs=1e-3)
    assert chart.range_high == pytest.approx(3.267 * mean_range, abs=1e-3)
    published = (33.52, 34.80, 32.24, 0.48, 1.57)
    ours = (chart.centre, chart.high, chart.low, chart.mean_range, chart.range_high)
    assert ours == pytest.approx(published, abs=0.01)
    assert not rules_hit(batches, chart.centre, chart.sigma).any()


def test_a_chart_of_chance_alone_raises_a_false_alarm_every_370_readings():
    # 1 / (2 Φ(−3)) = 370.4, which every textbook of control charts has as the average run length of Shewhart's chart.
    expected = 1 / math.erfc(3 / math.sqrt(2))
    assert expected == pytest.approx(370.4, abs=0.05)
    alarms = rules_hit(np.random.default_rng(370).standard_normal(4_000_000), 0, 1)[0].sum()
    assert 4_000_000 / alarms == pytest.approx(expected, rel=4 / math.sqrt(4_000_000 / expected))


def test_all_four_rules_together_raise_one_every_92():
    # C. W. Champ and W. H. Woodall, Technometrics 29 (1987): 91.75 (from memory).
    rng, runs = np.random.default_rng(92), []
    for _ in range(4000):
        readings = rng.standard_normal(1200)
        runs.append(int(np.argmax(rules_hit(readings, 0, 1).any(axis=0))) + 1)
    assert np.mean(runs) == pytest.approx(91.75, abs=4 * np.std(runs) / math.sqrt(4000))


@pytest.mark.parametrize(
    ("off", "rule", "at"),
    [
        ([0, 3.1, 0], 0, [1]),
        ([0, -3.1, 0], 0, [1]),
        ([0, 3.0, 0], 0, []),  # upon the limit is not beyond it
        ([2.1, 0, 2.1, 0], 1, [2]),
        ([2.1, 0, -2.1, 0], 1, []),
        ([2.1, 0, 0, 2.1], 1, []),
        ([1.1, 1.1, 0, 1.1, 1.1], 2, [4]),
        ([1.1, 1.1, -1.1, 1.1, 0.9], 2, []),
        ([0.1] * 9, 3, [7, 8]),
        ([0.1] * 7 + [0] + [0.1] * 7, 3, []),
    ],
)
def test_the_rules(off, rule, at):
    """Western Electric, Statistical Quality Control Handbook, 1956 (from memory), each by a case made for it."""
    for shift, size in ((0.0, 1.0), (40.0, 0.02), (-3.0, 5.0)):
        readings = np.array(off) * size + shift
        assert np.flatnonzero(rules_hit(readings, shift, size)[rule]).tolist() == at
        assert np.flatnonzero(rules_hit(2 * shift - readings, shift, size)[rule]).tolist() == at, "the other side"


@given(st.lists(st.floats(-5, 5), min_size=2, max_size=60), st.floats(-100, 100), st.floats(0.1, 10))
def test_another_unit_and_another_zero_make_the_same_chart(readings, shift, size):
    one, other = individuals(readings), individuals(np.array(readings) * size + shift)
    assert (other.low, other.high) == pytest.approx((one.low * size + shift, one.high * size + shift), abs=1e-6)
    assert other.range_high == pytest.approx(one.range_high * size, abs=1e-6)
    assert len(moving_range(readings)) == len(readings) - 1


def test_readings_that_never_vary_hit_nothing():
    chart = individuals([0.1] * 12)
    assert chart.sigma == 0
    assert not rules_hit([0.1] * 12, chart.centre, chart.sigma).any()


@pytest.mark.parametrize("readings", [[], [1.0], [1.0, math.nan], [1.0, math.inf], [[1.0, 2.0]]])
def test_what_makes_no_chart_is_refused(readings):
    with pytest.raises(GeometryError, match="two readings"):
        individuals(readings)
