"""When a blank will have come to the shop's moisture: a curve fitted to its readings, with a range that owns up."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from geometry.moisture import APART_DAYS, NEAR_ENOUGH, STEADY

LEAST_READINGS: Final = 3
LONGEST_DAYS: Final = 365.0  # no day is told that lies further ahead
METER: Final = 0.3  # % moisture by which pin readings of one blank scatter; common practice, no source
LEVEL: Final = 0.3  # % moisture by which one wood levels off above or below another; our own assumption
RANGE: Final = 0.9  # how often the range is to hold the day
_BELIEF: Final = 6.0  # readings that METER is worth: a few of a blank's own say little about their scatter
_FAR_OFF: Final = 4 * METER
_CONSTANTS: Final = np.geomspace(3.0, 720.0, 81)  # days to lose 63 % of the difference; each octave as likely


@dataclass(frozen=True, slots=True)
class Drying:
    """What the readings of a blank tell of the days to come. Days are counted from the first reading.

    ``why`` says in words why no day can be told; then there is no curve either. ``left_out`` is the place of a reading
    that no curve through the others comes near, most likely a slip.
    """

    why: str = ""
    expected: float = 0.0
    earliest: float = 0.0
    latest: float = 0.0
    left_out: int | None = None
    curves: _Curves | None = None

    def course(self, days: ArrayLike) -> np.ndarray:
        """Moisture to expect on some days, percent: an array of three rows, the middle and both ends of the range."""
        if self.curves is None:
            raise ValueError("There is no curve.")
        return self.curves.course(np.asarray(days, float))


@dataclass(frozen=True, slots=True)
class _Curves:
    """Many curves ``level + gap exp(-t / constant)``, each with how well it agrees with the readings (adds up to 1)."""

    constant: np.ndarray
    level: np.ndarray
    gap: np.ndarray
    weight: np.ndarray

    def course(self, days: np.ndarray) -> np.ndarray:
        moisture = self.level + self.gap * np.exp(-days[:, None] / self.constant)
        return np.array([_quantiles(row, self.weight) for row in moisture]).T[[1, 0, 2]]

    def ready(self, target: float, near: float, steady: float, apart: float) -> np.ndarray:
        """Day from which each stays near the target and steady; infinite where it levels off too far from it."""
        side = np.sign(self.gap)
        room = near - side * (self.level - target)
        stays = (room > 0) & (np.abs(self.level - target) <= near)
        gap = np.maximum(np.abs(self.gap), 1e-9)
        with np.errstate(divide="ignore", invalid="ignore"):
            arrives = self.constant * np.log(gap / np.where(stays, room, np.nan))
            rests = self.constant * np.log(gap * np.expm1(apart / self.constant) / steady)
        return np.where(stays, np.maximum(arrives, rests), np.inf)


def ready_by(
    days: ArrayLike,
    moisture: ArrayLike,
    target: float,
    *,
    near: float = NEAR_ENOUGH,
    steady: float = STEADY,
    apart: float = APART_DAYS,
) -> Drying:
    """Tell on which day a blank will be settled, if its readings support one.

    Parameters
    ----------
    days : array_like, shape (n,)
        When it was read, days from the first reading on, ascending.
    moisture : array_like, shape (n,)
        What was read, percent.
    target : float
        Equilibrium moisture content of the shop's air, percent.
    near, steady, apart : float
        Settled is: within ``near`` of the target, and changed by ``steady`` at most over ``apart`` days.

    Notes
    -----
    Moisture approaches its level exponentially, which is the first term of diffusion out of a slab. Curves of all time
    constants from 3 to 720 days are held against the readings, each octave thought equally likely beforehand; their
    level lies about the target (``LEVEL``), the scatter of the meter is learned from the readings, starting from
    ``METER``. The range holds the day ``RANGE`` of the time where that is so; the tests play it through. Own
    derivation.
    """
    t, y = np.asarray(days, float), np.asarray(moisture, float)
    wrong = _slip(t, y, target)
    kept = np.arange(len(t)) != wrong
    t, y = t[kept], y[kept]
    if why := _no_day(t, y, target, near):
        return Drying(why)
    curves, off = _fit(t, y, target)
    if np.sqrt(np.mean(off**2)) > 3 * METER:
        return Drying("The readings do not follow one curve.")
    earliest, expected, latest = _quantiles(curves.ready(target, near, steady, apart), curves.weight)
    now = float(t[-1])
    if latest > now + LONGEST_DAYS:
        return Drying("The readings do not pin a day down yet: it may take more than a year.")
    return Drying("", *(max(day, now) for day in (expected, earliest, latest)), wrong, curves)


def _slip(t: np.ndarray, y: np.ndarray, target: float) -> int | None:
    """Find the one reading without which the others agree; the least that must agree are four."""
    if len(t) <= LEAST_READINGS + 1:
        return None
    off = np.abs(_fit(t, y, target)[1])
    if off.max() <= _FAR_OFF:
        return None
    places = np.arange(len(t))
    without = {
        int(place): float(np.abs(_fit(t[places != place], y[places != place], target)[1]).max())
        for place in np.argsort(off)[-3:]
    }
    place = min(without, key=lambda place: without[place])
    return place if without[place] <= _FAR_OFF else None


def _no_day(t: np.ndarray, y: np.ndarray, target: float, near: float) -> str:
    """Say why readings support no day at all; empty where they may."""
    if len(t) < LEAST_READINGS:
        have = {0: "There is no reading", 1: "There is one reading"}.get(len(t), f"There are {len(t)} readings")
        return f"{have}, and it takes three."
    span = float(t[-1] - t[0])
    if span < APART_DAYS:
        return f"All readings lie within {max(1, round(span))} days; a week is the least."
    about = t - t.mean()
    slope = float(about @ y / (about @ about))
    off = y - y.mean() - slope * about
    scatter = (_BELIEF * METER**2 + off @ off) / (_BELIEF + len(t) - 2)
    if abs(slope) < 2 * np.sqrt(scatter / (about @ about)):
        return "The readings scatter more than they change."
    if abs(float(y[-2:].mean()) - target) > max(near, abs(float(y[0]) - target)):
        return "It moves away from what the shop's air leads to."
    return ""


def _fit(t: np.ndarray, y: np.ndarray, target: float) -> tuple[_Curves, np.ndarray]:
    """Weigh all curves by how well they agree with the readings; give also how far off the best leaves each reading.

    For each constant and level the gap is a straight-line fit: its spread is Student's, the scatter integrated out.
    """
    share = (np.arange(9) + 0.5) / 9
    normal = np.array([NormalDist().inv_cdf(p) for p in share])
    levels = target + LEVEL * normal
    constant, level = (a.ravel() for a in np.meshgrid(_CONSTANTS, levels, indexing="ij"))
    x = np.exp(-t[None, :] / constant[:, None])
    beside = y[None, :] - level[:, None]
    square = np.einsum("ij,ij->i", x, x)
    gap = np.einsum("ij,ij->i", x, beside) / square
    rest = beside - gap[:, None] * x
    free = _BELIEF + len(t) - 1
    left = _BELIEF * METER**2 + np.einsum("ij,ij->i", rest, rest)
    agrees = -0.5 * free * np.log(left) - 0.5 * np.log(square)
    weight = np.exp(agrees - agrees.max())
    best = int(np.argmin(left))
    # Student's quantiles from the normal ones: the expansion of Fisher and Cornish, good to 0.01 from 8 degrees on.
    student = normal + (normal**3 + normal) / (4 * free)
    student += (5 * normal**5 + 16 * normal**3 + 3 * normal) / (96 * free**2)
    gaps = gap[:, None] + student[None, :] * np.sqrt(left / free / square)[:, None]
    many = len(student)
    weights = np.repeat(weight, many)
    return _Curves(np.repeat(constant, many), np.repeat(level, many), gaps.ravel(), weights / weights.sum()), rest[best]


def _quantiles(values: np.ndarray, weight: np.ndarray) -> tuple[float, float, float]:
    """Give both ends of the range and the middle between them: lower, middle, upper."""
    order = np.argsort(values)
    heaped = np.cumsum(weight[order])
    at = np.searchsorted(heaped, [(1 - RANGE) / 2, 0.5, (1 + RANGE) / 2])
    low, middle, high = values[order][np.minimum(at, len(order) - 1)].tolist()
    return low, middle, high
