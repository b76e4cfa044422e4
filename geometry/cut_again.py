"""Whether a further cut saves a board, and what it costs."""

from __future__ import annotations

from dataclasses import dataclass

from geometry.gauging import CornerReading, StationReading
from geometry.radiused import CLOSE, ENDS, RadiusedBoard, Station, drop_at_edge
from geometry.recut import lost_in_cutting_again
from geometry.surface import radius_spanning
from geometry.units import LengthStyle
from geometry.words import at_least, at_most, say


@dataclass(frozen=True, slots=True)
class CutAgain:
    """What cutting the curve again, right and over the middle, would cost.

    Attributes
    ----------
    costs : float
        How much lower the middle comes out, mm.
    leaves, wanted : float
        Thickness that it leaves there, and that of the finished board, mm.
    comes_out : bool
        Whether the board still comes out.
    reckoned : bool
        Whether the thickness in the middle was not read but taken as planned.
    """

    costs: float
    leaves: float
    wanted: float
    comes_out: bool
    reckoned: bool

    def words(self, style: LengthStyle = LengthStyle.MM) -> str:
        """Say it."""
        costs = f"comes down by {at_least(self.costs, style)} to" if self.costs > 0.0005 else "stays at"
        base = " That counts from the plan: its middle was not read." if self.reckoned else ""
        said = f"Cut again, right and over its middle, the board {costs} {at_most(self.leaves, style)} there."
        wanted = f"Finished it has to be {say(self.wanted, style)}"
        if self.comes_out:
            return f"{said} {wanted}: it comes out.{base}"
        short = at_least(self.wanted - self.leaves, style)
        return f"{said} {wanted}: {short} is missing, so cutting again does not save it.{base}"


def cut_again(
    board: RadiusedBoard,
    centre: float | None,
    corners: CornerReading | None,
    stations: list[tuple[Station, StationReading]],
    off: dict[str, float],
) -> CutAgain:
    """Reckon what a further cut costs, at each end by what was read nearest to it."""
    middle = board.after if centre is None else centre
    rough = max((reading.deepest for _, reading in stations if _is_rough(reading)), default=0.0)
    # Low at one end, that end stood up; low at both, the curve is too tight.
    both_low = all(off.get(f"{end} level", 0.0) < -board.corner_tolerance for end in ENDS)
    left = []
    for end, x, place in zip(ENDS, (board.head, board.heel), board.corner_places, strict=True):
        near = min(stations, key=lambda pair, x=x: abs(pair[0].at - x), default=None)
        wanted = has = board.radius_at(x)
        offset = getattr(corners, f"{end}_offset") if corners else near[1].offset if near else 0.0
        apex = middle
        level = min(off.get(f"{end} level", 0.0), 0.0)
        if near and near[1].sure:
            has = near[1].radius + wanted - board.radius_at(near[0].at)
        elif both_low:
            height = drop_at_edge(board.radius_at(place), board.width) - level
            has = min(has, float(radius_spanning(board.width, height)))
        else:
            apex += level
        left.append(apex - lost_in_cutting_again(has, offset, wanted, board.width_at(x)))
    least = min(left)
    leaves = min(least - rough, board.after)
    return CutAgain(max(middle - leaves, 0.0), leaves, board.finished, leaves >= board.finished - CLOSE, centre is None)


def _is_rough(reading: StationReading) -> bool:
    return any(finding.cause in ("steps", "crown", "sides") for finding in reading.findings)
