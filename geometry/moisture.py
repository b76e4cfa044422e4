"""The wood in the shop's air: where its moisture is heading, whether it has settled, and how far it will move."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from geometry.request import Climate
from geometry.result import ClimateFigures

NEAR_ENOUGH: Final = 1.0  # % moisture from the shop's equilibrium; common practice, no source
STEADY: Final = 0.5  # % between the last two readings; common practice, no source
APART_DAYS: Final = 7.0  # between those readings; common practice, no source
HANDBOOK_RANGE: Final = (6.0, 14.0)  # % moisture over which the movement coefficients hold


def equilibrium(temperature_c: ArrayLike, humidity: ArrayLike) -> np.ndarray:
    """Equilibrium moisture content of wood in air, percent.

    Parameters
    ----------
    temperature_c : array_like
        Degrees Celsius.
    humidity : array_like
        Relative humidity, percent.

    Notes
    -----
    Wood Handbook (USDA Forest Products Laboratory, FPL-GTR-190, 2010), chapter 4: the two-hydrate equation of
    Hailwood and Horrobin, coefficients for degrees Celsius as Simpson gives them (FPL-RN-0268, 1998). It follows the
    handbook's table 4-2 within 0.06 %. A later report of the same laboratory (FPL-GTR-229, 2014) doubts the data
    behind it for science; for a workshop it is a guide.
    """
    t, h = np.asarray(temperature_c, float), np.asarray(humidity, float) / 100
    w = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * h
    second = k1 * k2 * kh**2
    return 1800 / w * (kh / (1 - kh) + (k1 * kh + 2 * second) / (1 + k1 * kh + second))


def movement(size: ArrayLike, coefficient: ArrayLike, from_mc: ArrayLike, to_mc: ArrayLike) -> np.ndarray:
    """Change of a size across the grain, in the size's own unit: ``D C (M2 - M1)``.

    Parameters
    ----------
    size : array_like
        The size at ``from_mc``.
    coefficient : array_like
        Change of size for each percent of moisture, radial or tangential; 0 for a composite, which does not move.
    from_mc, to_mc : array_like
        Moisture content, percent; the coefficients hold from 6 to 14 %.

    Notes
    -----
    Wood Handbook, chapter 13, equation 13-2.
    """
    change = np.subtract(to_mc, from_mc, dtype=float)
    return np.asarray(size, float) * np.asarray(coefficient, float) * change


def movement_by_shrinkage(size: ArrayLike, shrinkage: ArrayLike, from_mc: ArrayLike, to_mc: ArrayLike) -> np.ndarray:
    """Change of a size across the grain where the coefficients do not reach: ``D (M2 - M1) / (3000/S - 30 + M1)``.

    Parameters
    ----------
    size : array_like
        The size at ``from_mc``.
    shrinkage : array_like
        Total shrinkage from green to ovendry, percent, radial or tangential; more than 0.
    from_mc, to_mc : array_like
        Moisture content, percent; neither above 30 %.

    Notes
    -----
    Wood Handbook, chapter 13, equation 13-3.
    """
    start = np.asarray(from_mc, float)
    return np.asarray(size, float) * (np.asarray(to_mc, float) - start) / (3000 / np.asarray(shrinkage) - 30 + start)


def coefficient_of(shrinkage: ArrayLike) -> np.ndarray:
    """Movement coefficient that goes with a total shrinkage from green to ovendry, in percent: ``S/(3000 - 20 S)``.

    Notes
    -----
    Wood Handbook, chapter 13, equation 13-3 with a start at 10 % moisture.
    """
    shrinkage = np.asarray(shrinkage, float)
    return shrinkage / (3000 - 20 * shrinkage)


def across(climate: Climate) -> float:
    """Coefficient across a board's width: radial where quartersawn, tangential where flatsawn.

    Between the two it is their mean, for which the handbook has no formula.
    """
    return coefficient_across(climate.c_radial, climate.c_tangential, climate.grain)


def coefficient_across(radial: float, tangential: float, grain: str) -> float:
    """Coefficient across the width of a board sawn ``quarter``, ``rift`` or ``flat``; a rift one lies halfway."""
    return {"quarter": radial, "flat": tangential, "rift": (radial + tangential) / 2}[grain]


def has_settled(
    moisture: float, equilibrium_mc: float, *, earlier: float | None = None, days_between: float | None = None
) -> bool:
    """Tell whether a blank is ready to be machined.

    Parameters
    ----------
    moisture : float
        The last reading, percent.
    equilibrium_mc : float
        What the shop's air leads to, percent.
    earlier, days_between : float, optional
        The reading before, and how long before it was. Given, it must lie close to the last and far enough back.
    """
    if abs(moisture - equilibrium_mc) > NEAR_ENOUGH:
        return False
    if earlier is None or days_between is None:
        return True
    return days_between >= APART_DAYS and abs(moisture - earlier) <= STEADY


def moves(climate: Climate) -> bool:
    """Tell whether the board is wood that moves with its moisture; a composite has no movement and no reading."""
    return climate.c_radial > 0 or climate.c_tangential > 0


def in_seasons(climate: Climate) -> tuple[float, float]:
    """Equilibrium moisture content in the driest and in the dampest season, percent."""
    low, high = equilibrium(climate.temperature_c, [climate.season_low, climate.season_high]).tolist()
    return low, high


@dataclass(frozen=True, slots=True)
class FretEnds:
    """What the seasons do to a board's width at one place. Lengths are mm.

    ``season_change`` is between the driest and the dampest season. ``stand_out`` is how far each fret end that was
    flush in the shop's air comes out of the edge in the driest; negative, if the shop is drier still.
    """

    width: float
    season_change: float
    stand_out: float


def in_handbook_range(*moistures: float) -> bool:
    """Tell whether the movement coefficients hold for all of some moistures."""
    low, high = HANDBOOK_RANGE
    return all(low <= moisture <= high for moisture in moistures)


def fret_ends(
    width: float,
    coefficient: float,
    shop_mc: float,
    low_mc: float,
    high_mc: float,
    *,
    shrinkage: float | None = None,
) -> FretEnds:
    """Work out what the seasons do to a board of some width: wood shrinks away from under the frets, at both edges.

    Parameters
    ----------
    width : float
        Of the board in the shop's air, mm.
    coefficient : float
        Across its width, as `coefficient_across` gives it.
    shop_mc, low_mc, high_mc : float
        Moisture that the wood comes to in the shop's air, in the driest season and in the dampest, percent.
    shrinkage : float, optional
        Total shrinkage across, percent: where the coefficients do not reach, equation 13-3 takes it instead.
    """
    if shrinkage and not in_handbook_range(shop_mc, low_mc, high_mc):
        driest = width + float(movement_by_shrinkage(width, shrinkage, shop_mc, low_mc))
        return FretEnds(width, float(movement_by_shrinkage(driest, shrinkage, low_mc, high_mc)), (width - driest) / 2)
    change = movement(width, coefficient, [low_mc, shop_mc], [high_mc, low_mc])
    return FretEnds(width, float(change[0]), float(-change[1] / 2))


def in_the_air(climate: Climate, width: float) -> ClimateFigures:
    """Work out a board of some width (mm) in the shop's air and in the seasons its instrument will see.

    ``season_change`` is how much wider the board is in the dampest season than in the driest, mm.
    """
    now = float(equilibrium(climate.temperature_c, climate.humidity))
    ready = not moves(climate) or has_settled(climate.blank_mc, now)
    return ClimateFigures(now, ready, float(movement(width, across(climate), *in_seasons(climate))))
