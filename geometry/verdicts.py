"""A whole board, read after radiusing: pass, rework or stop."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from geometry.cut_again import CutAgain, cut_again
from geometry.findings import Finding, Verdict, worst
from geometry.gauging import CornerReading, Corners, StationReading, read_corners, read_station
from geometry.radiused import CLOSE, ENDS, RadiusedBoard, Station, drop_at_edge
from geometry.surface import radius_spanning
from geometry.units import LengthStyle, rounded
from geometry.words import at_least, say


@dataclass(frozen=True, slots=True)
class BoardReading:
    """A board, read after radiusing.

    Attributes
    ----------
    verdict : "pass", "rework" or "stop"
        Rework: something is off that a further cut puts right, with wood enough. Stop: somebody has to decide.
    findings : tuple of Finding
        What there is to say, what leads furthest first.
    corners, stations
        The readings by themselves.
    again : CutAgain or None
        What a further cut would cost, where one is called for.
    off : dict
        By how much each thing that was read is off, mm, with names that the boards of a run share.
    """

    verdict: Verdict
    findings: tuple[Finding, ...]
    corners: CornerReading | None = None
    stations: tuple[StationReading, ...] = ()
    again: CutAgain | None = None
    off: dict[str, float] = field(default_factory=dict)


def read_board(
    board: RadiusedBoard,
    corners: Corners | None = None,
    centre: float | None = None,
    stations: Sequence[Station] = (),
    style: LengthStyle = LengthStyle.MM,
) -> BoardReading:
    """Put what was read of one board together, and say what it comes to.

    Parameters
    ----------
    board : RadiusedBoard
        What it must be.
    corners : Corners, optional
        Thickness at the blank's corners, mm.
    centre : float, optional
        Thickness on the centreline, mm.
    stations : sequence of Station
        Points measured across; heights and thicknesses will both do.
    style : LengthStyle
        How lengths are written.

    Raises
    ------
    GeometryError
        As `geometry.gauging.read_station`.

    Notes
    -----
    Own derivation. What all four corners say together: a curve off centre makes the sides of an end unlike, by
    ``w e/R``. An end that stood up while it was cut is thinner there at both sides alike. A radius that is off makes
    both sides of both ends unlike what the middle says, by ``s(R) - s(R wanted)``. A board that is cut too high or too
    low is off everywhere, its middle included. A former of the wrong radius at one end looks like an end that stood
    up; the curve across a station near that end tells them apart.
    """
    findings: list[Finding] = []
    off: dict[str, float] = {}
    read = None
    if corners is not None:
        radii = tuple(board.radius_at(x) for x in board.corner_places)
        read = read_corners(corners, board.width, board.length, radii, board.corner_tolerance, style)
        findings += read.findings
        off |= {
            "head sides": corners.head_treble - corners.head_bass,
            "heel sides": corners.heel_treble - corners.heel_bass,
        }
    gauged = tuple(_gauge(board, station, style) for station in stations)
    for station, reading in zip(stations, gauged, strict=True):
        findings += reading.findings
        if not reading.hollow:
            off[f"curve {station.name}"] = reading.edge_error if reading.sure else 0.0
            side = reading.offset / reading.radius * board.width_at(station.at)
            off[f"sides {station.name}"] = side
    if centre is not None:
        findings += _height(board, centre, style)
        off["centre"] = centre - board.after
        if corners is not None:
            levels = _levels(board, corners, centre)
            off |= {f"{end} level": level for end, level in levels.items()}
            if not any(finding.cause == "radius" and finding.leads_to != "pass" for finding in findings):
                findings += _ends(board, corners, centre, levels, style)
    verdict = worst(finding.leads_to for finding in findings)
    again = None
    if verdict == "rework":
        again = cut_again(board, centre, read, list(zip(stations, gauged, strict=True)), off)
        verdict = "rework" if again.comes_out else "stop"
    findings.sort(key=lambda finding: ("stop", "rework", "pass").index(finding.leads_to))
    return BoardReading(verdict, tuple(findings), read, gauged, again, off)


def _gauge(board: RadiusedBoard, station: Station, style: LengthStyle) -> StationReading:
    return read_station(
        station.points,
        board.radius_at(station.at),
        style,
        width=board.width_at(station.at),
        tolerance=board.corner_tolerance,
        scallop=board.scallop,
        reads_to=board.reads_to,
        where=station.name,
    )


def _height(board: RadiusedBoard, centre: float, style: LengthStyle) -> list[Finding]:
    """Say whether the whole board is too thick or too thin in the middle."""
    off, limit = centre - board.after, board.thickness_tolerance
    is_ = f"It is {say(centre, style)} thick on the centreline; radiusing should leave {say(board.after, style)}."
    if centre < board.finished - CLOSE:
        short = at_least(board.finished - centre, style)
        words = f"{is_} That is {short} less than the finished board has to be."
        look = "Look how deep the cutter is set, and whether the board stood up on something."
        helps = "No further cut puts wood back: another blank, or a thinner finished board."
        return [Finding("thin", "", words, look, helps, board.finished - centre, 0.0, "stop")]
    if off < -limit - CLOSE:
        words = f"{is_} The sanding gives the {at_least(-off, style)} that are missing."
        return [Finding("thin", "", words, "Set the cutter higher before the next board.", "", -off, limit)]
    if off > limit + CLOSE:
        look = "Look for shavings under the riser or the packing, and whether the cutter has slipped up in its collet."
        helps = f"Set the cutter {at_least(off, style)} lower and go over all passes again."
        return [Finding("height", "", is_, look, helps, off, limit, "rework")]
    return []


def _levels(board: RadiusedBoard, corners: Corners, centre: float) -> dict[str, float]:
    """How much higher the two corners of an end lie together than the middle says that they should, mm."""
    levels = {}
    for end, x in zip(ENDS, board.corner_places, strict=True):
        mean = (getattr(corners, f"{end}_bass") + getattr(corners, f"{end}_treble")) / 2
        levels[end] = mean - (centre - drop_at_edge(board.radius_at(x), board.width))
    return levels


def _ends(
    board: RadiusedBoard, corners: Corners, centre: float, levels: dict[str, float], style: LengthStyle
) -> list[Finding]:
    """Say what the ends are together: a radius that is off, or one end that stood up or hung down."""
    limit = board.corner_tolerance
    wrong = {end: level for end, level in levels.items() if abs(level) > limit + CLOSE}
    if len(wrong) == 2 and math.prod(wrong.values()) > 0:
        level = max(wrong.values(), key=abs)
        low = level < 0
        reads = []
        for end, x in zip(ENDS, board.corner_places, strict=True):
            height = drop_at_edge(board.radius_at(x), board.width) - levels[end]
            radius = float(radius_spanning(board.width, height))
            reads.append(f"{say(rounded(radius, 0), style) if math.isfinite(radius) else 'flat'} at the {end}")
        words = (
            f"All four corners lie up to {at_least(abs(level), style)} {'lower' if low else 'higher'} than the middle "
            f"says: the curve is {'tighter' if low else 'flatter'} than wanted, about {' and '.join(reads)}."
        )
        look = "Look which formers stand on the jig, and whether riser and packing are the ones that belong there."
        return [Finding("radius", "", words, look, "", abs(level), limit, "rework")]
    found = []
    for end, level in wrong.items():
        by = at_least(abs(level), style)
        if level < 0:
            words = f"The {end} end lies {by} lower than the middle says, at both sides."
            look = f"Look for shavings or doubled tape under the {end}: what stands up is cut away."
        else:
            words = f"The {end} end lies {by} higher than the middle says, at both sides."
            look = f"Look for shavings or doubled tape under the middle and the other end, and for a {end} that hung."
        also = f"The wrong former at the {end} looks the same: gauge the curve there."
        found.append(Finding("end", end, words, f"{look} {also}", "", abs(level), limit, "rework"))
    return found
