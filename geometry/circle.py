"""The circle through measured points, and how well they tell it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from geometry.errors import GeometryError, Problem

MOST_ROUNDS: Final = 200
STRAIGHT: Final = 1e-9  # of the points' own spread: what floating point cannot tell from a straight line


@dataclass(frozen=True, slots=True)
class Circle:
    """The circle that fits points best: centre, radius, and how far the points lie off it, outwards positive, mm."""

    y: float
    z: float
    radius: float
    rms: float
    max_residual: float
    residuals: tuple[float, ...] = ()

    @property
    def hollow(self) -> bool:
        """Whether the centre lies above the arc, so that the board is dished rather than round."""
        return self.radius < 0


def fit_circle(y: ArrayLike, z: ArrayLike) -> Circle:
    """Fit a circle to points by least squares of their distances to it.

    Parameters
    ----------
    y, z : array_like, shape (points,)
        Places across the board and heights there, mm.

    Returns
    -------
    Circle
        Its ``radius`` is negative where the points bend upwards from their middle.

    Raises
    ------
    GeometryError
        If there are fewer than three points in different places, or all lie on a line.

    Notes
    -----
    A circle that is fitted by squares of its equation comes out too small on a short arc (Gander, Golub & Strebel,
    BIT 34, 1994), so that fit serves as the start only. From there the distances themselves are made least, by
    Levenberg's damped Gauss-Newton rule.
    """
    y, z = np.asarray(y, float), np.asarray(z, float)
    if len({*zip(y.tolist(), z.tolist(), strict=True)}) < 3:
        raise GeometryError(Problem("points", "A circle needs three points in different places at least."))
    middle = np.array([y.mean(), z.mean()])
    scale = max(np.ptp(y), np.ptp(z))
    points = (np.column_stack([y, z]) - middle) / scale
    if np.linalg.svd(points, compute_uv=False)[1] < STRAIGHT:
        raise GeometryError(Problem("points", "The points lie on a straight line: this board has no radius to read."))
    found = _least_distances(points, _least_squares_of_equation(points))
    residuals = np.hypot(*(points - found[:2]).T) - found[2]
    centre = found[:2] * scale + middle
    radius = found[2] * scale
    rms, most = (float(v * scale) for v in (np.sqrt(np.mean(residuals**2)), np.abs(residuals).max()))
    sense = 1 if centre[1] <= middle[1] else -1
    off = tuple((residuals * scale).tolist())
    return Circle(float(centre[0]), float(centre[1]), sense * float(radius), rms, most, off)


def _least_squares_of_equation(points: np.ndarray) -> np.ndarray:
    """Fit ``y² + z² = 2ay + 2bz + c``, which is linear: centre and radius, biased on short arcs."""
    matrix = np.column_stack([2 * points, np.ones(len(points))])
    (a, b, c), *_ = np.linalg.lstsq(matrix, np.square(points).sum(axis=1), rcond=None)
    return np.array([a, b, math.sqrt(max(c + a * a + b * b, 0.0))])


def _least_distances(points: np.ndarray, start: np.ndarray) -> np.ndarray:
    """Make the sum of squared distances least, from a start: centre and radius.

    The centre is walked by its direction's end nearest to the points: on a short arc the centre is far off and hardly
    known, the top of the arc near and well known, and curvature is well known where radius is not.
    """
    direction = start[:2] / (np.linalg.norm(start[:2]) or 1.0)
    angle = math.atan2(direction[1], direction[0])
    near = np.linalg.norm(start[:2]) - start[2]
    state = np.array([near, angle, 1 / start[2]])
    residuals, slopes = _distances(points, state)
    damping = 1e-3
    for _ in range(MOST_ROUNDS):
        normal, gradient = slopes.T @ slopes, slopes.T @ residuals
        step = np.linalg.lstsq(normal + damping * np.diag(np.diag(normal)), -gradient, rcond=None)[0]
        tried, tried_slopes = _distances(points, state + step)
        if state[2] + step[2] > 0 and tried @ tried <= residuals @ residuals:
            state, residuals, slopes, damping = state + step, tried, tried_slopes, damping / 10
            if np.abs(step).max() < 1e-14 * max(1.0, np.abs(state).max()):
                break
        else:
            damping *= 10
            if damping > 1e12:
                break
    near, angle, bend = state
    return np.array([*((near + 1 / bend) * np.array([math.cos(angle), math.sin(angle)])), 1 / bend])


def _distances(points: np.ndarray, state: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distances of points from the circle ``(near, angle, bend)``, and their slopes."""
    near, angle, bend = state
    radius = 1 / bend
    direction = np.array([math.cos(angle), math.sin(angle)])
    across = np.array([-direction[1], direction[0]])
    out = points - (near + radius) * direction
    distance = np.hypot(*out.T)
    unit = out / distance[:, None]
    return distance - radius, np.column_stack(
        [-unit @ direction, -(near + radius) * (unit @ across), (unit @ direction + 1) * radius**2]
    )


def standard_errors(y: ArrayLike, error: ArrayLike) -> tuple[float, float]:
    """Tell how unsure curvature and slope of a short arc are that is read at some places: their standard errors.

    Parameters
    ----------
    y : array_like, shape (points,)
        Places across the board, mm.
    error : array_like
        Standard deviation of one reading, mm.

    Returns
    -------
    curvature, slope : float
        In 1/mm, and in mm for each mm across. Of a radius R they make errors of ``R²`` times the first in the radius,
        and of ``R`` times the second in where its middle lies.

    Notes
    -----
    Own derivation. On an arc so short that ``s`` is ``y²/2R``, the best circle is the best parabola
    ``a + b y + k y²/2`` (their difference is of fourth order). By the rule for linear least squares the variances are
    ``error²`` times the diagonal of ``(XᵀX)⁻¹``, with columns 1, y, y²/2. For n points spread evenly over a chord w,
    that is ``sd(k) = 2 error/sqrt(S)``, ``S = n (n²-1)(n²-4) h⁴/180``, ``h = w/(n-1)``; for many points it goes to
    ``sd(k) = 12 sqrt(5/n) error/w²``: twice the chord is worth sixteen times the points.
    """
    y = np.asarray(y, float)
    y = y - y.mean()
    spread = np.ptp(y) or 1.0
    u = y / spread
    columns = np.column_stack([np.ones_like(u), u, u * u / 2])
    inverse = np.linalg.pinv(columns.T @ columns)
    slope, bend = np.sqrt(np.maximum(np.diag(inverse)[1:], 0.0))
    return float(bend * error / spread**2), float(slope * error / spread)
