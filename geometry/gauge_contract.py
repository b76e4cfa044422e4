"""`manage.py gauge` as JSON: points across a station, or the four corners of a blank, and what they say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from geometry.contract import answer_each
from geometry.errors import GeometryError, Problem
from geometry.gauging import CornerReading, Corners, StationReading, read_corners, read_station
from geometry.reader import read_figure, read_part

MOST_POINTS: Final = 10_000


@dataclass(frozen=True, slots=True)
class EndsWanted:
    """Radius wanted at the two ends of a blank."""

    head: float
    heel: float


@dataclass(frozen=True, slots=True)
class CornersRead:
    """Four corners, and the blank they were measured on."""

    corners: Corners
    width: float
    length: float
    radius: EndsWanted
    tolerance: float


def answer(data: bytes | str) -> tuple[str, int]:
    """Answer one JSON text with another, as `geometry.contract.answer` does."""
    return answer_each(data, lambda asked: [_read(one) for one in asked])


def _read(asked: Any) -> StationReading | CornerReading | GeometryError:
    """Read a station or four corners, whichever was asked."""
    try:
        if not isinstance(asked, dict):
            raise GeometryError(Problem("", "This must be an object."))
        if "points" in asked:
            return _read_points(asked)
        if "corners" not in asked:
            raise GeometryError(Problem("", "There must be either points or corners."))
        problems: list[Problem] = []
        found = read_part(CornersRead, asked, "", problems)
        if found is not None:
            for end in ("head", "heel"):
                if found.width >= 2 * getattr(found.radius, end):
                    problems.append(Problem(f"radius.{end}", "No circle of this radius spans the width."))
        if problems:
            raise GeometryError(*problems)
        ends = found.radius.head, found.radius.heel
        return read_corners(found.corners, found.width, found.length, ends, found.tolerance)
    except GeometryError as error:
        return error


def _read_points(asked: dict[str, Any]) -> StationReading:
    """Read points, each a pair of place and height, and the radius wanted if there is one."""
    problems = [Problem(name[:40], "There is no such field.") for name in asked if name not in ("points", "radius")]
    problems += [Problem(name[:40], "This field is there twice.") for name in getattr(asked, "twice", ())]
    wanted = read_figure(asked["radius"], "radius", problems) if "radius" in asked else None
    points = []
    listed = asked["points"]
    if not isinstance(listed, list) or len(listed) > MOST_POINTS:
        problems.append(Problem("points", f"This must be an array of {MOST_POINTS} pairs at most."))
        listed = []
    for place, pair in enumerate(listed):
        if isinstance(pair, list) and len(pair) == 2:
            points.append(
                tuple(read_figure(v, f"points[{place}][{n}]", problems, below=True) for n, v in enumerate(pair))
            )
        else:
            problems.append(Problem(f"points[{place}]", "A point is a pair: place across, and height."))
    if problems:
        raise GeometryError(*problems)
    return read_station(points, wanted)
