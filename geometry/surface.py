"""The curve across a board: a cylinder, or a cone whose apex line is level."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from geometry.errors import GeometryError, Problem


def sagitta_within(radius: np.ndarray, chord: np.ndarray) -> np.ndarray:
    """Sagitta of chords known to fit their circle; `sagitta` checks first.

    ``h²/(R + sqrt(R² - h²))`` equals ``R - sqrt(R² - h²)``, loses no digits where R is large, and is 0 for a
    flat board (R infinite).
    """
    half_squared = np.square(chord) / 4
    return half_squared / (radius + np.sqrt(np.square(radius) - half_squared))


def sagitta(radius: ArrayLike, chord: ArrayLike) -> np.ndarray:
    """Height of a circular arc over its chord: how much lower a board's edge is than its middle.

    Parameters
    ----------
    radius : array_like
        Radius, mm, broadcast against `chord`; infinity for a flat board.
    chord : array_like
        Width across, mm.

    Returns
    -------
    ndarray
        ``R - sqrt(R² - (w/2)²)``, mm.

    Raises
    ------
    GeometryError
        If a chord is wider than its circle.

    Notes
    -----
    Machinery's Handbook, "Segments of a Circle": ``h = r - sqrt(4r² - c²)/2``.
    """
    radius, chord = np.asarray(radius, float), np.asarray(chord, float)
    if not (chord <= 2 * radius).all():
        raise GeometryError(Problem("radius", "The width is more than twice the radius: no circle spans that."))
    return sagitta_within(radius, chord)


def radius_spanning(chord: ArrayLike, height: ArrayLike) -> np.ndarray:
    """Radius of the arc that stands ``height`` over ``chord``, mm: ``(c² + 4h²)/(8h)``; infinite where flat.

    Source: Machinery's Handbook, "Segments of a Circle".
    """
    chord, height = np.asarray(chord, float), np.asarray(height, float)
    with np.errstate(divide="ignore"):
        return np.where(height > 0, (np.square(chord) + 4 * np.square(height)) / (8 * height), np.inf)


def radius_slope(nut_radius: np.ndarray, heel_radius: np.ndarray, length: np.ndarray) -> np.ndarray:
    """How much the radius grows with each mm towards the heel; 0 for a cylinder and for a flat board."""
    rise = np.subtract(heel_radius, nut_radius, out=np.zeros_like(length), where=np.isfinite(nut_radius))
    return rise / length


def radius_at(x: ArrayLike, nut_radius: ArrayLike, heel_radius: ArrayLike, length: ArrayLike) -> np.ndarray:
    """Radius of the surface at distance ``x`` from the nut face, linear along the board and beyond its ends.

    Parameters
    ----------
    x : array_like
        Distance from the nut face, mm.
    nut_radius, heel_radius : array_like
        Radius at x = 0 and at x = `length`, mm; infinite for a flat board (both ends or none).
    length : array_like
        Nut face to heel, mm.
    """
    nut_radius, heel_radius, length = np.broadcast_arrays(
        *(np.asarray(v, float) for v in (nut_radius, heel_radius, length))
    )
    return nut_radius + radius_slope(nut_radius, heel_radius, length) * np.asarray(x, float)


def height_at(
    x: ArrayLike,
    y: ArrayLike,
    *,
    thickness: ArrayLike,
    nut_radius: ArrayLike,
    heel_radius: ArrayLike,
    length: ArrayLike,
) -> np.ndarray:
    """Height of the finished surface above the glue face at points of the board, mm.

    Parameters
    ----------
    x, y : array_like
        Distance from the nut face and from the centreline, mm.
    thickness, nut_radius, heel_radius, length : array_like
        The board's, as in `radius_at`; `thickness` on the centreline.

    Raises
    ------
    GeometryError
        If a point lies off the circle.
    """
    return thickness - sagitta(radius_at(x, nut_radius, heel_radius, length), 2 * np.abs(np.asarray(y, float)))
