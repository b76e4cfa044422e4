"""What was made of a board: kept in the log at each stage, and put together again from there.

A saw cut stays in the wood when the board is sent back or taken off its build. So what a board is now follows from all
the stages that were finished on it and not taken back, not only from those that count as done.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from boards.models.state import Kind, replay
from geometry.outline import rough_widths
from geometry.request import EndRadii, Request, TwoScales
from geometry.result import Result
from geometry.units import LengthStyle, rounded
from geometry.words import say
from shop.models import RadiusBy, Shop, Spec
from shop.stages import STAGES

Made = dict[str, Any]


def _kept(**lengths: float | None) -> Made:
    """Write lengths as the log keeps them: decimal strings, mm."""
    return {
        name: None if value is None else format(rounded(value, 6).normalize(), "f") for name, value in lengths.items()
    }


def made_by(stage: str, request: Request, result: Result) -> Made:
    """Say what a stage makes of a board, by the figures of the spec that it follows at that time."""
    board = request.board
    match stage:
        case "thicknessing":
            return _kept(thickness=result.thickness.before_radiusing)
        case "slotting":
            flat, ledger = request.slotting == "before radiusing", result.thickness
            lengths = _kept(
                thickness=ledger.before_radiusing if flat else ledger.after_radiusing,
                depth=result.slots.depth_setting,
                kerf=request.wire.kerf,
                head=board.nut_ledge + request.allowances.end,
            )
            return {**_layout(request, result), **lengths, "frets": board.frets, "slotting": request.slotting}
        case "radiusing":
            nut, heel = (board.radius.nut, board.radius.heel) if board.radius else (None, None)
            return _kept(
                radius_nut=nut,
                radius_heel=heel,
                length=result.board.length,
                thickness=result.thickness.after_radiusing,
            )
        case "tapering":
            nut_width, heel_width = rough_widths(board.nut_width, board.heel_width, request.allowances.edge)
            return _kept(
                nut_width=nut_width,
                heel_width=heel_width,
                length=result.board.length,
                overall=result.board.overall,
            )
        case _:
            return {}


def cut_on(stage: str, spec: Spec) -> Made:
    """Say on which jig a curve is cut, by its name of that day; nothing stands there for a sanding block."""
    if stage != "radiusing" or spec.radius_nut is None:
        return {}
    if spec.radius_by == RadiusBy.BLOCK:
        return {"jig": ""}
    jig = Shop.current().jig
    return {"jig": jig.name} if jig else {}


def _layout(request: Request, result: Result) -> Made:
    """Say what the places of the frets follow from; fanned ones lean with the outline."""
    board, scale = request.board, request.board.scale
    if not isinstance(scale, TwoScales):
        return _kept(scale=scale)
    lengths = _kept(
        scale=scale.treble,
        bass_scale=scale.bass,
        inset=scale.inset,
        nut_width=board.nut_width,
        heel_width=board.heel_width,
        length=result.board.length,
    )
    return {**lengths, "square_fret": scale.square_fret}


@dataclass(frozen=True, slots=True)
class Slots:
    """The slots that are in a board. Lengths are mm; ``floor`` is how high their floor lies in the middle."""

    scale: float
    bass_scale: float | None
    square_fret: int | None
    outline: tuple[float, float, float, float] | None  # inset, widths, length: what fanned frets lean with
    frets: int
    kerf: float
    head: float
    floor: float
    slotting: str


@dataclass(frozen=True, slots=True)
class Curve:
    """The curve that a board has."""

    radius: EndRadii | None
    length: float


@dataclass(frozen=True, slots=True)
class Outline:
    """The outline that a board was tapered to, proud of the finished one."""

    nut_width: float
    heel_width: float
    length: float
    overall: float


@dataclass(slots=True)
class AsMade:
    """What a board is by now. Lengths are mm; ``thickness`` is that of the middle once it is known to be worked.

    ``unknown`` names the stages that were finished before the log kept what they made.
    """

    thickness: float | None = None
    slots: Slots | None = None
    curve: Curve | None = None
    outline: Outline | None = None
    unknown: list[str] = field(default_factory=list)

    @property
    def machined(self) -> bool:
        """Tell whether anything was made of it."""
        return bool(self.thickness is not None or self.slots or self.curve or self.outline or self.unknown)

    @property
    def unknown_words(self) -> str:
        """Say what cannot be told of it."""
        if not self.unknown:
            return ""
        stages = " and ".join(STAGES[stage].label.lower() for stage in self.unknown)
        return f"What {stages} made of it was not kept."

    def words(self, style: LengthStyle) -> list[str]:
        """Say what it is by now."""
        said = []
        if self.thickness is not None:
            said.append(f"{say(self.thickness, style)} thick")
        if self.slots:
            fanned = f"{say(self.slots.bass_scale, style)} to " if self.slots.bass_scale else ""
            said.append(f"{self.slots.frets} slots for a scale of {fanned}{say(self.slots.scale, style)}")
        if self.curve:
            said.append(f"radius {radius_words(self.curve.radius, style)}" if self.curve.radius else "flat on top")
        if self.outline:
            widths = (self.outline.nut_width, self.outline.heel_width)
            said.append(f"tapered from {say(widths[0], style)} to {say(widths[1], style)}")
        return said


def radius_words(ends: EndRadii | None, style: LengthStyle) -> str:
    """Say a radius, or both of a cone."""
    if ends is None:
        return "none"
    nut = say(ends.nut, style)
    return nut if ends.nut == ends.heel else f"{nut} to {say(ends.heel, style)}"


def as_made(log: Iterable[Any], thickness: Decimal) -> AsMade:
    """Put together what a board is by now, from its log and the thickness that it was measured with as a blank."""
    now = AsMade()
    _, standing = replay(sorted(log, key=lambda entry: entry.number))
    for entry, _before in standing:
        if entry.kind != Kind.FINISHED:
            continue
        read = {name: float(value) for name, value in entry.readings.items()}
        _add(now, entry.stage, entry.made, read)
    if now.thickness is not None:
        # Wood does not grow back: measured again as thinner than it was read last, it is thinner.
        now.thickness = min(now.thickness, float(thickness))
    return now


def _add(now: AsMade, stage: str, made: Made, read: dict[str, float]) -> None:
    """Let one stage do its work on a board."""
    known = made or stage == "gluing" or (stage == "thicknessing" and read)
    if not known and stage not in now.unknown:
        now.unknown.append(stage)
    match stage:
        case "thicknessing":
            ends = [read[end] for end in ("head", "heel") if end in read]
            _thin(now, min(ends) if ends else _length(made, "thickness"))
        case "slotting" if made:
            now.slots = _sawn(now, made, read)
        case "radiusing":
            _thin(now, read.get("centre", _length(made, "thickness")))
            if made:
                nut, heel = _length(made, "radius_nut"), _length(made, "radius_heel")
                now.curve = Curve(EndRadii(nut, heel) if nut and heel else None, float(made["length"]))
        case "tapering" if made:
            nut, heel = (read.get(name, float(made[name])) for name in ("nut_width", "heel_width"))
            now.outline = Outline(nut, heel, float(made["length"]), float(made["overall"]))


def _thin(now: AsMade, thickness: float | None) -> None:
    if thickness is not None:
        now.thickness = min(thickness, now.thickness or thickness)


def _sawn(now: AsMade, made: Made, read: dict[str, float]) -> Slots:
    flat, top = made["slotting"] == "before radiusing", float(made["thickness"])
    # Sawn flat into a board that has its curve, the depth does not count from the thickness of its middle.
    if now.thickness is not None and not (flat and now.curve):
        top = now.thickness
    floor = top - read.get("depth", float(made["depth"]))
    kerf, head = float(made["kerf"]), float(made["head"])
    frets = made["frets"]
    if now.slots:  # sawn again, a slot keeps what was deeper and wider
        floor, kerf, frets = min(floor, now.slots.floor), max(kerf, now.slots.kerf), max(frets, now.slots.frets)
    fanned = "bass_scale" in made
    return Slots(
        scale=float(made["scale"]),
        bass_scale=_length(made, "bass_scale"),
        square_fret=made.get("square_fret"),
        outline=tuple(float(made[name]) for name in ("inset", "nut_width", "heel_width", "length")) if fanned else None,
        frets=frets,
        kerf=kerf,
        head=head,
        floor=floor,
        slotting=made["slotting"],
    )


def _length(made: Made, name: str) -> float | None:
    value = made.get(name)
    return None if value is None else float(value)
