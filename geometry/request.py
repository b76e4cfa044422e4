"""What is asked of the geometry service: a board, and what the shop allows for it.

Lengths are millimetres. The field names are those of the JSON contract (`manage.py workout --schema`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Slotting = Literal["before radiusing", "after radiusing"]


@dataclass(frozen=True, slots=True)
class TwoScales:
    """Two scale lengths (fanned frets), measured along the outer strings."""

    bass: float
    treble: float
    square_fret: int
    inset: float = 3.5


@dataclass(frozen=True, slots=True)
class EndRadii:
    """Radius at the nut face and at the heel end; equal ends make a cylinder, unlike ends a cone."""

    nut: float
    heel: float


@dataclass(frozen=True, slots=True)
class Board:
    """What the finished board must be. ``radius`` None means flat."""

    scale: float | TwoScales
    frets: int
    nut_width: float
    heel_width: float
    overhang: float
    thickness: float
    radius: EndRadii | None
    nut_ledge: float = 0.0


@dataclass(frozen=True, slots=True)
class Wire:
    """Fret wire as the slot meets it: tang depth, slot width, clearance wanted under the tang."""

    tang: float
    kerf: float
    clearance: float = 0.3


@dataclass(frozen=True, slots=True)
class Allowances:
    """What is left on, and where: starting values of the trade, each a setting of the shop's."""

    edge: float = 3.0
    end: float = 10.0
    proving: float = 25.0
    flatten: float = 0.4
    skim: float = 0.15
    sanding: float = 0.15


@dataclass(frozen=True, slots=True)
class BlankSize:
    """A blank as measured."""

    length: float
    width: float
    thickness: float


@dataclass(frozen=True, slots=True)
class Cutter:
    """A flat-bottomed cutter and the deepest it may bite in one pass."""

    diameter: float
    max_depth: float


@dataclass(frozen=True, slots=True)
class Jig:
    """The radius jig, measured as the drawing of it shows."""

    span: float
    end_clearance: float
    rail_spacing: float
    rail_diameter: float
    rail_plane: float
    riser: float
    packing: float = 0.2
    edge_tolerance: float = 0.05
    former_margin: float = 10.0


@dataclass(frozen=True, slots=True)
class Former:
    """A shaped end of the radius jig: arc radius, height of its apex above the bed, how many there are."""

    name: str
    radius: float
    apex: float
    count: int = 1


@dataclass(frozen=True, slots=True)
class Climate:
    """The shop's air, the blank's moisture, and the seasons the instrument will live in."""

    temperature_c: float
    humidity: float
    blank_mc: float
    season_low: float
    season_high: float
    c_radial: float
    c_tangential: float
    grain: Literal["quarter", "rift", "flat"]


@dataclass(frozen=True, slots=True)
class Request:
    """Everything that one workout needs."""

    board: Board
    wire: Wire
    slotting: Slotting = "before radiusing"
    web_min: float = 1.5
    allowances: Allowances = field(default_factory=Allowances)
    blank: BlankSize | None = None
    cutter: Cutter | None = None
    scallop_max: float = 0.05
    jig: Jig | None = None
    formers: tuple[Former, ...] = ()
    climate: Climate | None = None
