"""What the geometry service answers. Names, nesting and units are those of the JSON contract."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final, Literal

from geometry.measured import Rests
from geometry.request import BlankSize

Point = tuple[float, float]
INSIDE: Final = "inside"  # marks a field that is not part of the JSON contract


@dataclass(frozen=True, slots=True)
class FretLine:
    """One fret; fret 0 is the nut, which has no slot (``slot_depth`` and ``web`` are None)."""

    fret: int
    from_nut: float
    from_previous: float
    width: float
    radius: float | None
    sagitta: float
    edge_thickness: float
    bass: Point
    treble: Point
    slot_depth: float | None
    web: float | None


@dataclass(frozen=True, slots=True)
class BoardFigures:
    """The finished board along its length."""

    length: float
    overall: float
    frets: tuple[FretLine, ...]


@dataclass(frozen=True, slots=True)
class ThicknessLedger:
    """Thickness on the centreline, from the finished board back to the blank at intake."""

    finished: float
    after_radiusing: float
    before_radiusing: float
    intake_min: float


@dataclass(frozen=True, slots=True)
class SlotFigures:
    """One saw setting for the whole board, and what it leaves."""

    depth_setting: float
    deepest_fret: int
    web_least: float
    void_at_centre: float


@dataclass(frozen=True, slots=True)
class Size:
    """Length, width and thickness; in a margin a negative figure is too small."""

    length: float
    width: float
    thickness: float

    def margin_of(self, blank: BlankSize) -> Size:
        """Tell how much larger a blank is than this size, in mm; negative is too small."""
        return Size(blank.length - self.length, blank.width - self.width, blank.thickness - self.thickness)


@dataclass(frozen=True, slots=True)
class CornerFigures:
    """Thickness at the corners of the radiused, still square blank: both sides of an end alike."""

    head: float
    heel: float


@dataclass(frozen=True, slots=True)
class Pass:
    """One pass of the cutter, counted from the apex (0) towards either side."""

    number: int
    angle_deg: float
    depth: float
    head_arc: float | None
    head_square: float | None
    heel_arc: float | None
    heel_square: float | None


@dataclass(frozen=True, slots=True)
class PassFigures:
    """The fan of passes over one board."""

    count: int
    step_deg: float
    half_angle_deg: float
    scallop: float
    depth_levels: int
    list: tuple[Pass, ...]


@dataclass(frozen=True, slots=True)
class Setup:
    """Which formers stand where, where the board lies, and what radius that leaves."""

    head_former: str
    heel_former: str
    nut_at: float
    nut_radius: float
    heel_radius: float
    edge_error: float
    apex_drift: float
    fits: bool


@dataclass(frozen=True, slots=True)
class FormerToMake:
    """One former of the exact pair for a board; ``radius`` None means a straight edge, for a flat board."""

    end: Literal["head", "heel"]
    radius: float | None
    apex: float
    half_width: float


@dataclass(frozen=True, slots=True)
class ClimateFigures:
    """The wood in the shop's air."""

    emc: float
    ready: bool
    season_change: float


@dataclass(frozen=True, slots=True)
class Warning:
    """Something to know before the cut: what, where, how much, what would help."""

    code: str
    level: Literal["stop", "caution"]
    message: str
    value: float | None
    limit: float | None


@dataclass(frozen=True, slots=True)
class Result:
    """One board, worked out.

    ``rests`` says which of its figures rest on what was read of the board by now; None where nothing was read.
    """

    board: BoardFigures
    thickness: ThicknessLedger
    slots: SlotFigures
    blank_needed: Size
    blank_margin: Size | None
    corners: CornerFigures
    passes: PassFigures | None
    setup: Setup | None
    formers_to_make: tuple[FormerToMake, ...] | None
    climate: ClimateFigures | None
    warnings: tuple[Warning, ...]
    rests: Rests | None = field(default=None, metadata={INSIDE: True})
