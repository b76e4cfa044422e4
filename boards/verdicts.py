"""What readings that are off come to: what is so, what to look for, and whether to pass, cut again or stop."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from boards.figures import Worked
from boards.readings import Target
from geometry.findings import Finding, Verdict, worst
from geometry.gauging import CornerReading, Corners
from geometry.radiused import ENDS, RadiusedBoard, Station
from geometry.units import LengthStyle
from geometry.verdicts import BoardReading, read_board
from geometry.words import at_least, at_most, say
from shop.drawings.endview import EndView, corners_view
from shop.models import Shop

SIDES = ("bass", "treble")
WORDS: dict[Verdict, str] = {"pass": "Pass", "rework": "Rework", "stop": "Stop"}


@dataclass(frozen=True, slots=True)
class Judgement:
    """What some readings come to, with drawings where there is a curve to draw.

    ``again`` says what a further cut costs, where one is called for.
    """

    verdict: Verdict
    findings: tuple[Finding, ...]
    views: tuple[EndView, ...] = ()
    again: str = ""

    @property
    def word(self) -> str:
        """Say the verdict in a word."""
        return WORDS[self.verdict]

    @property
    def reason(self) -> str:
        """Say why the board is held: what is so, without what to look for."""
        said = [finding.words for finding in self.findings if finding.leads_to != "pass"]
        return " ".join([*said, self.again] if self.again else said)[:2000]


def judge(
    stage: str, board: Worked, asked: Iterable[Target], readings: dict[str, Decimal], shop: Shop
) -> Judgement | None:
    """Say what readings of a stage come to; nothing where all are in."""
    off = {target.key: target for target in asked if _is_off(target, readings)}
    style = shop.style
    read = {key: float(value) for key, value in readings.items()}
    match stage:
        case "thicknessing":
            findings = [_thickness(board, target, read[key], style) for key, target in off.items()]
        case "slotting":
            findings = [_slot(board, target, read[key], style) for key, target in off.items()]
        case "radiusing":
            return _radiusing(board, off, readings, shop)
        case "tapering":
            findings = [_width(board, target, read[key], style) for key, target in off.items()]
        case "gluing":
            findings = [_glued(target, read[key], style) for key, target in off.items()]
        case _:
            findings = []
    if not findings:
        return None
    return Judgement(worst(finding.leads_to for finding in findings), tuple(findings))


def _is_off(target: Target, readings: dict[str, Decimal]) -> bool:
    return target.key in readings and not target.is_met_by(readings[target.key])


def _thickness(board: Worked, target: Target, read: float, style: LengthStyle) -> Finding:
    """Too thick is run through again; too thin for the finished board is found now, not once the curve is cut."""
    off, where = read - target.value, target.side
    if off > 0:
        return Finding(
            "height", where, f"The {where} is {say(off, style)} too thick.",
            would_help=f"Run it through again and take off {say(off, style)} there.",
            value=off, limit=target.tolerance, leads_to="rework",
        )  # fmt: skip
    left, finished = board.result.thickness.after_radiusing, board.request.board.thickness
    if read < finished:
        return Finding(
            "thin", where,
            f"The {where} is {say(read, style)} thick. Finished it has to be {say(finished, style)}, so "
            f"{at_least(finished - read, style)} is missing.",
            would_help="It is too thin for this spec. It may do for a thinner board.",
            value=off, limit=target.tolerance, leads_to="stop",
        )  # fmt: skip
    if read < left:
        # The sanding gives it, and from here on all figures count from what was read (`geometry.tops`).
        return Finding(
            "thin", where,
            f"The {where} is {say(-off, style)} too thin: there is no skim left, and {at_most(read - finished, style)} "
            f"of {say(left - finished, style)} for sanding out the passes.",
            would_help=f"It can pass if the cutter is set to leave {say(read, style)} in the middle, "
            f"{at_least(left - read, style)} lower than planned.",
            value=off, limit=target.tolerance,
        )  # fmt: skip
    return Finding(
        "thin", where,
        f"The {where} is {say(-off, style)} too thin: {say(read - left, style)} is left to be cut off the middle.",
        "The marks of the passes may not come out all over.",
        "It can pass if the jig is set so that the cut still reaches the whole face.",
        value=off, limit=target.tolerance,
    )  # fmt: skip


def _slot(board: Worked, target: Target, read: float, style: LengthStyle) -> Finding:
    """Too shallow is sawn again; too deep takes from the web."""
    off = read - target.value
    if off < 0:
        return Finding(
            "height", "", f"The slots are {say(-off, style)} too shallow: a fret would not seat at the edges.",
            would_help=f"Saw them again, {say(-off, style)} deeper.",
            value=off, limit=target.tolerance, leads_to="rework",
        )  # fmt: skip
    web, least = board.result.slots.web_least - off, board.request.web_min
    if web < least:
        return Finding(
            "thin", "",
            f"The slots are {say(off, style)} too deep: {say(max(web, 0.0), style)} of wood is left under them at the "
            f"least, and {say(least, style)} is the least you set.",
            would_help="It breaks there when it is bent. Hold it until somebody decides.",
            value=off, limit=target.tolerance, leads_to="stop",
        )  # fmt: skip
    return Finding(
        "thin", "",
        f"The slots are {say(off, style)} too deep. {say(web, style)} of wood is left under them at the least, which "
        "will do.",
        "Look whether the saw's stop has slipped, before the next board.",
        value=off, limit=target.tolerance,
    )  # fmt: skip


def _width(board: Worked, target: Target, read: float, style: LengthStyle) -> Finding:
    """Too wide is planed; narrower than the finished board cannot be put right."""
    off, where = read - target.value, "nut" if target.key == "nut_width" else "heel"
    if off > 0:
        return Finding(
            "height", where, f"It is {say(off, style)} too wide at the {where}.",
            would_help="Take it down to the line.", value=off, limit=target.tolerance, leads_to="rework",
        )  # fmt: skip
    spec = board.request.board
    finished = spec.nut_width if where == "nut" else spec.heel_width
    if read < finished:
        return Finding(
            "thin", where,
            f"It is {say(read, style)} wide at the {where}. Finished it has to be {say(finished, style)}.",
            would_help="It is too narrow for this neck. It may do for a narrower one.",
            value=off, limit=target.tolerance, leads_to="stop",
        )  # fmt: skip
    return Finding(
        "thin", where,
        f"It is {say(-off, style)} too narrow at the {where}: {say(read - finished, style)} is left to be trimmed.",
        value=off, limit=target.tolerance,
    )  # fmt: skip


def _glued(target: Target, read: float, style: LengthStyle) -> Finding:
    """Slip is put right while the glue is open, or not at all."""
    return Finding(
        "off-centre", "heel", f"The centreline lies {say(abs(read), style)} off at the heel.",
        "Look whether the clamps or the cauls pulled it over.",
        "While the glue is open, loosen the clamps and put it right. Once it is set, stop here.",
        value=abs(read), limit=target.tolerance, leads_to="stop",
    )  # fmt: skip


def _radiusing(board: Worked, off: dict[str, Target], readings: dict[str, Decimal], shop: Shop) -> Judgement | None:
    """Read the curve from the corners and the middle."""
    corners = corners_of(readings)
    centre = float(readings["centre"]) if "centre" in readings else None
    if corners is None and centre is None:
        return None
    read = read_radiused(board, shop, corners, centre)
    if read.verdict == "pass" and not off and not read.findings:
        return None
    views = tuple(corner_view(end, board, corners, read.corners, shop) for end in ENDS) if corners else ()
    return judgement_of(read, shop.style, views)


def judgement_of(read: BoardReading, style: LengthStyle, views: tuple[EndView, ...] = ()) -> Judgement:
    """Take what geometry read off a board."""
    return Judgement(read.verdict, read.findings, views, read.again.words(style) if read.again else "")


def read_radiused(
    board: Worked,
    shop: Shop,
    corners: Corners | None = None,
    centre: float | None = None,
    stations: Sequence[Station] = (),
) -> BoardReading:
    """Read a whole board after radiusing, against what it had to be when it came to the jig."""
    wanted = RadiusedBoard.of(
        board.request, board.at("radiusing"), float(shop.corner_tolerance), float(shop.thickness_tolerance)
    )
    return read_board(wanted, corners, centre, stations, shop.style)


def corners_of(readings: dict[str, Decimal | None]) -> Corners | None:
    """Take the four corners, if all four were read."""
    keys = [f"{end}_{side}" for end in ENDS for side in SIDES]
    if any(readings.get(key) is None for key in keys):
        return None
    return Corners(**{key: float(readings[key]) for key in keys})


def corner_view(end: str, board: Worked, corners: Corners, read: CornerReading, shop: Shop) -> EndView:
    """Draw one end of a blank as its two corners say."""
    curve = board.request.board.radius
    return corners_view(
        f"{end.capitalize()} end",
        float(board.blank.width),
        (curve.nut if end == "head" else curve.heel) if curve else None,
        board.at("radiusing").thickness.after_radiusing,
        tuple(getattr(corners, f"{end}_{side}") for side in SIDES),
        read.head_offset if end == "head" else read.heel_offset,
        float(shop.corner_tolerance),
    )
