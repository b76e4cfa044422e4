"""Control charts of single readings: centre line, limits, and the runs that chance alone would hardly make.

Sources: W. A. Shewhart, Economic Control of Quality of Manufactured Product (1931), for limits at three sigma; ASTM
E2587, Standard Practice for Use of Control Charts in Statistical Process Control, and D. C. Montgomery, Introduction to
Statistical Quality Control, for charts of individuals with their moving range; Western Electric, Statistical Quality
Control Handbook (1956), for the rules. All named from memory; what they give is checked in the tests by integration
and by simulation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from geometry.errors import GeometryError, Problem

D2: Final = 2 / math.sqrt(math.pi)
"""Mean of the range of two readings, in sigma: 1.128."""
D3: Final = 0.0
"""Lower limit of the moving range of two, in mean ranges."""
D4: Final = 1 + 3 * math.sqrt(2 - 4 / math.pi) / D2
"""Upper limit of the moving range of two, in mean ranges: 3.267."""
E2: Final = 3 / D2
"""Limits of single readings, in mean moving ranges from the centre: 2.66."""

RULES: Final = (
    "beyond a limit",
    "two of three beyond two sigma on one side",
    "four of five beyond one sigma on one side",
    "eight in a row on one side",
)
_ZONES: Final = (
    (1, 1, 3.0),
    (2, 3, 2.0),
    (4, 5, 1.0),
    (8, 8, 0.0),
)  # how many, of how many in a row, beyond which sigma
_ROUNDING: Final = 1e-9


@dataclass(frozen=True, slots=True)
class ControlChart:
    """The centre line and the limits of single readings and of their moving range, all in the readings' unit."""

    centre: float
    sigma: float
    mean_range: float

    @property
    def low(self) -> float:
        """The lower limit of single readings."""
        return self.centre - 3 * self.sigma

    @property
    def high(self) -> float:
        """The upper limit of single readings."""
        return self.centre + 3 * self.sigma

    @property
    def range_high(self) -> float:
        """The upper limit of the moving range; the lower one is 0."""
        return D4 * self.mean_range


def moving_range(readings: ArrayLike) -> np.ndarray:
    """Give how far each reading lies from the one before it.

    Parameters
    ----------
    readings : array_like, shape (n,)
        In the order in which they were taken.

    Returns
    -------
    ndarray, shape (n - 1,)
        The range of each two neighbours; empty for fewer than two.
    """
    return np.abs(np.diff(np.asarray(readings, float)))


def individuals(readings: ArrayLike) -> ControlChart:
    """Reckon the chart of single readings: mean ± 2.66 mean moving ranges.

    The scatter is taken from neighbours, not from all readings at once: what changes slowly must not widen the limits
    that are to show it.

    Parameters
    ----------
    readings : array_like, shape (n,)
        In the order in which they were taken, in any one unit.

    Returns
    -------
    ControlChart

    Raises
    ------
    GeometryError
        If there are fewer than two, or if one of them is not finite.
    """
    readings = np.asarray(readings, float)
    if readings.ndim != 1 or len(readings) < 2 or not np.isfinite(readings).all():
        raise GeometryError(Problem("readings", "A control chart needs two readings at least, all of them numbers."))
    mean_range = float(moving_range(readings).mean())
    return ControlChart(float(readings.mean()), mean_range / D2, mean_range)


def rules_hit(readings: ArrayLike, centre: float, sigma: float) -> np.ndarray:
    """Tell at which readings a Western Electric rule is met.

    Parameters
    ----------
    readings : array_like, shape (n,)
        In the order in which they were taken.
    centre, sigma : float
        The centre line and one sigma, in the readings' unit; sigma 0 or more.

    Returns
    -------
    ndarray of bool, shape (4, n)
        One row for each of `RULES`. A rule is met at the reading that completes it, and only where that reading itself
        lies where the rule counts.
    """
    off = np.asarray(readings, float) - centre
    hit = np.zeros((len(RULES), len(off)), bool)
    # Readings come in steps of a caliper: one that lies on a line is not beyond it, whatever rounding says.
    close = _ROUNDING * max(1.0, abs(centre), sigma)
    for rule, (needed, of, zone) in enumerate(_ZONES):
        for side in (1, -1):
            beyond = side * off > zone * sigma + close
            counts = np.convolve(beyond, np.ones(of, int))[: len(off)]
            hit[rule] |= beyond & (counts >= needed)
    return hit
