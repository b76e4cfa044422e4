"""Reading a board: the circle through measured points, and what the four corners say."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from geometry.errors import GeometryError, Problem
from geometry.units import LengthStyle, rounded
from geometry.words import at_least, at_most, say

MOST_ROUNDS: Final = 200
MOST_PACKING: Final = 10.0  # mm of packing or riser that anyone would put in or take out; common practice, no source
STRAIGHT: Final = 1e-9  # of the points' own spread: what floating point cannot tell from a straight line


@dataclass(frozen=True, slots=True)
class Circle:
    """The circle that fits points best: centre, radius, and how far the points lie off it, mm."""

    y: float
    z: float
    radius: float
    rms: float
    max_residual: float

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
    return Circle(float(centre[0]), float(centre[1]), sense * float(radius), rms, most)


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


@dataclass(frozen=True, slots=True)
class StationReading:
    """One station of a board, read: radius, where its middle lies, its apex, and how well the points agree."""

    radius: float
    offset: float
    apex: float
    rms: float
    max_residual: float
    advice: tuple[str, ...]


def read_station(
    points: Sequence[tuple[float, float]], wanted: float | None = None, style: LengthStyle = LengthStyle.MM
) -> StationReading:
    """Read the radius off heights measured across one station.

    Parameters
    ----------
    points : sequence of (y, z)
        Place across the board, treble side positive, and height or thickness there, mm.
    wanted : float, optional
        The radius wanted, mm.
    style : LengthStyle
        How lengths are written in the advice.

    Raises
    ------
    GeometryError
        As `fit_circle`.
    """
    y, z = (np.array(column, float) for column in zip(*points, strict=True)) if points else ([], [])
    circle = fit_circle(y, z)
    radius = abs(circle.radius)
    apex = circle.z + circle.radius
    advice = []
    if len(points) == 3:
        advice.append("Three points always lie on a circle. Take five or more to see how well they agree.")
    if circle.hollow:
        advice.append("The board is hollow: it is lower in the middle than at its sides.")
    elif wanted is not None:
        advice.append(_compare_radius(radius, wanted, float(np.ptp(y)), circle.rms, len(points), style))
    if abs(circle.y) > 0.5:
        lean = math.degrees(circle.y / circle.radius)
        advice.append(
            f"The middle of the curve lies {say(abs(circle.y), style)} towards the {_side(circle.y)}. Either the board "
            f"lies that far off the jig's centreline, or it leans by {abs(lean):.2f}°."
        )
    return StationReading(radius, circle.y, apex, circle.rms, circle.max_residual, tuple(advice))


def _compare_radius(radius: float, wanted: float, chord: float, rms: float, points: int, style: LengthStyle) -> str:
    """Say how a radius compares with the one wanted, no closer than the points can tell.

    Own derivation: over a chord w a height error e turns into an error of about 8R²e/w² in the radius.
    """
    unsure = 2 * 8 * radius**2 / chord**2 * rms / math.sqrt(max(points - 3, 1))
    off = radius - wanted
    reads, aim, by = (say(rounded(value, 1), style) for value in (radius, wanted, abs(off)))
    if abs(off) <= max(unsure, 0.005 * wanted):
        return f"The radius reads {reads}, as near to {aim} as these points can tell."
    way, change = ("flatter", "lower") if off > 0 else ("tighter", "higher")
    remedy = "Other formers would put it right."
    if abs(off) <= MOST_PACKING:
        remedy = f"The board lying {by} {change}, with the cutter set again, would put it right."
    return f"The radius reads {reads}, {by} {way} than {aim}. {remedy}"


@dataclass(frozen=True, slots=True)
class Corners:
    """Thickness at the four corners of a radiused, still square blank, mm."""

    head_bass: float
    head_treble: float
    heel_bass: float
    heel_treble: float


@dataclass(frozen=True, slots=True)
class CornerReading:
    """What four corners say: how far the curve is off at each end, and how skew the blank lay."""

    head_offset: float
    heel_offset: float
    skew_deg: float
    passed: bool
    advice: tuple[str, ...]


def read_corners(
    corners: Corners,
    width: float,
    length: float,
    radii: tuple[float, float],
    tolerance: float,
    style: LengthStyle = LengthStyle.MM,
) -> CornerReading:
    """Read from four corners whether the curve lies over the middle of the blank.

    Parameters
    ----------
    corners : Corners
        Thickness there, mm.
    width, length : float
        The blank's, where it was measured, mm.
    radii : pair of float
        Radius at the head end and at the heel end, mm.
    tolerance : float
        How much the two sides of an end may differ, mm.
    style : LengthStyle
        How lengths are written in the advice.

    Notes
    -----
    Own derivation: with the curve's middle off by e, the sides of an end differ by
    ``s(w/2 + e) - s(w/2 - e)``, close to ``w e/R``; so e is ``difference R/w``, towards the thicker side.
    """
    ends = {
        "head": (corners.head_treble - corners.head_bass, radii[0]),
        "heel": (corners.heel_treble - corners.heel_bass, radii[1]),
    }
    offsets = {end: difference * radius / width for end, (difference, radius) in ends.items()}
    skew = math.degrees(math.atan((offsets["heel"] - offsets["head"]) / length))
    wrong = {end: difference for end, (difference, _) in ends.items() if abs(difference) > tolerance + 1e-9}
    advice = []
    for end, difference in wrong.items():
        offset = offsets[end]
        lean = math.degrees(abs(difference) / width)
        advice.append(
            f"The {end} end is {at_least(abs(difference), style)} thicker at the {_side(difference)} side; "
            f"{at_most(tolerance, style)} is allowed. Either the blank lies {say(abs(offset), style)} off the jig's "
            f"centreline there, its {_side(-offset)} side too far out, or it leans by {lean:.2f}°."
        )
    if wrong and abs(offsets["heel"] - offsets["head"]) > max(abs(tolerance * r / width) for r in radii):
        advice.append(f"The ends are off by unlike amounts: the blank lies skew by {abs(skew):.2f}°.")
    return CornerReading(offsets["head"], offsets["heel"], skew, not wrong, tuple(advice))


def _side(offset: float) -> str:
    return "treble" if offset > 0 else "bass"
