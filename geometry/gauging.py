"""Reading a board: the curve across one station, and what the four corners say."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from geometry.circle import Circle, fit_circle, standard_errors
from geometry.findings import Finding, Verdict, side_of, student, worst
from geometry.pattern import patterns_in
from geometry.result import INSIDE
from geometry.surface import sagitta_within
from geometry.units import LengthStyle, rounded
from geometry.words import at_least, at_most, say

__all__ = ["Circle", "CornerReading", "Corners", "StationReading", "fit_circle", "read_corners", "read_station"]

MOST_PACKING: Final = 10.0  # mm of packing or riser that anyone would put in or take out; common practice, no source
OFF_AT_ALL: Final = 0.5  # mm off the centreline that are worth a word where no tolerance says more
UNSURE: Final = 0.04  # of the radius: more than that is said beside the reading
NEAR: Final = 0.005  # of the radius: nearer than that nobody asks a board to be


@dataclass(frozen=True, slots=True)
class StationReading:
    """One station of a board, read: radius, where its middle lies, its apex, and how well the points agree.

    What follows ``advice`` is for pages, not for the JSON contract.

    Attributes
    ----------
    radius_error, offset_error : float
        Standard errors of radius and offset, mm; infinite where the points cannot tell.
    edge_error : float
        How much lower (positive) the curve read lies at the edge than the one wanted, mm; 0 where none is wanted.
    sure : bool
        Whether the radius differs from the one wanted by more than the points are unsure of it.
    hollow : bool
        Whether it is lower in the middle than at its sides.
    deepest : float
        How far the lowest point lies under the circle, mm.
    findings : tuple of Finding
        What there is to say, with causes.
    verdict : "pass", "rework" or "stop"
        What the findings come to, as long as nobody knows how much wood there is to cut again.
    """

    radius: float
    offset: float
    apex: float
    rms: float
    max_residual: float
    advice: tuple[str, ...]
    radius_error: float = field(default=0.0, metadata={INSIDE: True})
    offset_error: float = field(default=0.0, metadata={INSIDE: True})
    edge_error: float = field(default=0.0, metadata={INSIDE: True})
    sure: bool = field(default=False, metadata={INSIDE: True})
    hollow: bool = field(default=False, metadata={INSIDE: True})
    deepest: float = field(default=0.0, metadata={INSIDE: True})
    findings: tuple[Finding, ...] = field(default=(), metadata={INSIDE: True})
    verdict: Verdict = field(default="pass", metadata={INSIDE: True})


def read_station(
    points: Sequence[tuple[float, float]],
    wanted: float | None = None,
    style: LengthStyle = LengthStyle.MM,
    *,
    width: float | None = None,
    tolerance: float | None = None,
    scallop: float = 0.05,
    reads_to: float = 0.0,
    where: str = "",
) -> StationReading:
    """Read the radius off heights measured across one station.

    Parameters
    ----------
    points : sequence of (y, z)
        Place across the board, treble side positive, and height or thickness there, mm.
    wanted : float, optional
        The radius wanted, mm; infinite for a flat board.
    style : LengthStyle
        How lengths are written in the advice.
    width : float, optional
        Over which the curve has to be right, mm; the points' own spread where it is not given.
    tolerance : float, optional
        How far the height at the edge may be off, and how much the sides may differ, mm. Without one every difference
        that the points are sure of counts.
    scallop : float
        The highest ridge that the passes may leave, mm.
    reads_to : float
        Standard deviation of one reading, mm, as far as it is known; the points' own scatter counts where it is more.
    where : str
        The station's name, in words such as ``head``.

    Raises
    ------
    GeometryError
        As `fit_circle`.

    Notes
    -----
    How unsure the radius is follows from the scatter of the points about their circle, with 3 of their number used up
    by the circle itself, and from how they are spread (`standard_errors`). A radius is called wrong only where it is
    off by more than Student's t (97.5 %) times that. Over 40 mm of a radius of 508 mm, with readings good to 0.02 mm,
    nine points leave a standard error of 24 mm: a short arc tells a wrong former from a right one, not a worn one.
    """
    y, z = (np.array(column, float) for column in zip(*points, strict=True)) if points else ([], [])
    circle = fit_circle(y, z)
    radius = abs(circle.radius)
    spare = len(points) - 3
    scatter = circle.rms * math.sqrt(len(points) / spare) if spare else 0.0
    bend, slope = standard_errors(y, max(scatter, reads_to))
    unsure = student(spare)
    chord = float(np.ptp(y)) if width is None else width
    off_edge, sure, findings = 0.0, False, []
    if not spare:
        words = "Three points always lie on a circle. Take five or more to see how well they agree."
        findings.append(Finding("few-points", where, words))
    if circle.hollow:
        findings.append(_hollow(circle, chord, where, style))
    elif wanted is not None:
        sure = abs(1 / radius - 1 / wanted) > max(unsure * bend, NEAR / wanted)
        off_edge = _sagitta(radius, chord) - _sagitta(wanted, chord)
        findings.append(_radius(radius, wanted, off_edge, sure, tolerance, where, style))
    findings += _off_centre(circle, unsure * slope * radius, chord, tolerance, where, style)
    findings += patterns_in(y, circle, scallop, reads_to, where, style)
    if wanted is not None and not circle.hollow and unsure * bend * radius > UNSURE:
        give = say(rounded(unsure * bend * radius**2, 0), style)
        words = f"Points so near together leave the radius unsure by {give} either way. The wider they lie, the better."
        findings.append(Finding("few-points", where, words))
    return StationReading(
        radius,
        circle.y,
        circle.z + circle.radius,
        circle.rms,
        circle.max_residual,
        tuple(finding.said for finding in findings),
        radius_error=bend * radius**2,
        offset_error=slope * radius,
        edge_error=off_edge,
        sure=sure,
        hollow=circle.hollow,
        deepest=max(0.0, -min(circle.residuals)),
        findings=tuple(findings),
        verdict=worst(finding.leads_to for finding in findings),
    )


def _sagitta(radius: float, chord: float) -> float:
    """Sagitta of a chord, or of as much of it as the circle spans."""
    return float(sagitta_within(np.float64(radius), np.float64(min(chord, 2 * radius))))


def _hollow(circle: Circle, chord: float, where: str, style: LengthStyle) -> Finding:
    deep = _sagitta(abs(circle.radius), chord)
    return Finding(
        "hollow",
        where,
        "The board is hollow: it is lower in the middle than at its sides.",
        f"By {say(deep, style)}: it bent up at its sides while it was held, or it is measured from the wrong face.",
        value=deep,
        limit=0.0,
        leads_to="stop",
    )


def _radius(
    radius: float, wanted: float, off_edge: float, sure: bool, tolerance: float | None, where: str, style: LengthStyle
) -> Finding:
    """Say how a radius compares with the one wanted, no closer than the points can tell."""
    reads = say(rounded(radius, 1), style)
    if math.isinf(wanted):
        aim, by = "flat", ""
    else:
        aim, by = (say(rounded(value, 1), style) for value in (wanted, abs(radius - wanted)))
    limit = 0.0 if tolerance is None else tolerance
    wrong = sure and abs(off_edge) > limit + 1e-9
    if not sure:
        words = f"The radius reads {reads}, as near to {aim} as these points can tell."
        return Finding("radius", where, words, value=off_edge, limit=limit)
    off = radius - wanted
    way, change = ("flatter", "lower") if off > 0 else ("tighter", "higher")
    if math.isinf(wanted):
        words, remedy = f"The board is rounded, to a radius of {reads}; it should be flat.", "Look at the formers."
    else:
        words = f"The radius reads {reads}, {by} {way} than {aim}."
        remedy = "Other formers would put it right."
        if abs(off) <= MOST_PACKING:
            remedy = f"The board lying {by} {change}, with the cutter set again, would put it right."
    return Finding("radius", where, words, "", remedy, off_edge, limit, "rework" if wrong else "pass")


def _off_centre(
    circle: Circle, unsure: float, chord: float, tolerance: float | None, where: str, style: LengthStyle
) -> list[Finding]:
    """Say where the middle of the curve lies, if that is further off than the points are unsure of."""
    apart = abs(circle.y) * chord / abs(circle.radius)
    limit = OFF_AT_ALL * chord / abs(circle.radius) if tolerance is None else tolerance
    if apart <= limit or abs(circle.y) <= unsure:
        return []
    lean = math.degrees(circle.y / circle.radius)
    side = side_of(circle.y)
    words = (
        f"The middle of the curve lies {say(abs(circle.y), style)} towards the {side}. Either the board "
        f"lies that far off the jig's centreline, or it leans by {abs(lean):.2f}°."
    )
    look = f"Look for shavings or dust under the {side_of(-circle.y)} edge, and for the marks on the bed."
    return [Finding("off-centre", where, words, look, "", apart, limit, "rework" if tolerance is not None else "pass")]


@dataclass(frozen=True, slots=True)
class Corners:
    """Thickness at the four corners of a radiused, still square blank, mm."""

    head_bass: float
    head_treble: float
    heel_bass: float
    heel_treble: float


@dataclass(frozen=True, slots=True)
class CornerReading:
    """What four corners say: how far the curve is off at each end, and how skew the blank lay.

    What follows ``advice`` is for pages, not for the JSON contract.
    """

    head_offset: float
    heel_offset: float
    skew_deg: float
    passed: bool
    advice: tuple[str, ...]
    findings: tuple[Finding, ...] = field(default=(), metadata={INSIDE: True})
    verdict: Verdict = field(default="pass", metadata={INSIDE: True})


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
        Radius at the head end and at the heel end, mm; infinite for a flat board, whose sides can differ by a lean
        only.
    tolerance : float
        How much the two sides of an end may differ, mm.
    style : LengthStyle
        How lengths are written in the advice.

    Notes
    -----
    Own derivation: with the curve's middle off by e, the sides of an end differ by
    ``s(w/2 + e) - s(w/2 - e)``, close to ``w e/R``; so e is ``difference R/w``, towards the thicker side.
    """
    flat = math.isinf(radii[0]) or math.isinf(radii[1])
    ends = {
        "head": (corners.head_treble - corners.head_bass, radii[0]),
        "heel": (corners.heel_treble - corners.heel_bass, radii[1]),
    }
    offsets = {end: 0.0 if flat else difference * radius / width for end, (difference, radius) in ends.items()}
    skew = math.degrees(math.atan((offsets["heel"] - offsets["head"]) / length))
    wrong = {end: difference for end, (difference, _) in ends.items() if abs(difference) > tolerance + 1e-9}
    findings = []
    for end, difference in wrong.items():
        offset = offsets[end]
        thin = side_of(-difference)
        lean = math.degrees(abs(difference) / width)
        off = f"the blank lies {say(abs(offset), style)} off the jig's centreline there, its {thin} side too far out"
        words = (
            f"The {end} end is {at_least(abs(difference), style)} thicker at the {side_of(difference)} side; "
            f"{at_most(tolerance, style)} is allowed. "
            + (f"It leans by {lean:.2f}°." if flat else f"Either {off}, or it leans by {lean:.2f}°.")
        )
        look = f"Look for shavings, dust or doubled tape under the {thin} edge at the {end}."
        findings.append(Finding("off-centre", end, words, look, "", abs(difference), tolerance, "rework"))
    apart = offsets["heel"] - offsets["head"]
    if wrong and not flat and abs(apart) > max(abs(tolerance * r / width) for r in radii):
        findings.append(
            Finding(
                "skew",
                "",
                f"The ends are off by unlike amounts: the blank lies skew by {abs(skew):.2f}°.",
                "Hold its centreline against the marks at both ends, and look for one corner that is packed up.",
                value=abs(apart),
                limit=max(abs(tolerance * r / width) for r in radii),
                leads_to="rework",
            )
        )
    return CornerReading(
        offsets["head"],
        offsets["heel"],
        skew,
        not wrong,
        tuple(finding.said for finding in findings),
        tuple(findings),
        worst(finding.leads_to for finding in findings),
    )
