"""What a field may hold: one table for the checks, for the reader of the JSON contract and for its schema.

The limits keep out slips of the pen and numbers that cannot be meant. They are wide on purpose: what is only
unusual is worked out, and `geometry.cautions` asks about it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

from geometry.frets import MAX_FRETS

Kind = Literal["length", "number", "count"]


@dataclass(frozen=True, slots=True)
class Limit:
    """The kind of figure that a field holds, its least and its greatest, and what people call it."""

    kind: Kind
    least: float
    most: float
    name: str


def _length(least: float, most: float, name: str) -> Limit:
    return Limit("length", least, most, name)


LIMITS: Final[dict[str, Limit]] = {
    "board.scale": _length(100, 3000, "the scale length"),
    "board.scale.bass": _length(100, 3000, "the bass scale length"),
    "board.scale.treble": _length(100, 3000, "the treble scale length"),
    "board.scale.square_fret": Limit("count", 0, MAX_FRETS, "the square fret"),
    "board.scale.inset": _length(0, 50, "the inset of the outer strings"),
    "board.frets": Limit("count", 1, MAX_FRETS, "the number of frets"),
    "board.nut_width": _length(10, 300, "the width at the nut"),
    "board.heel_width": _length(10, 300, "the width at the heel"),
    "board.overhang": _length(0, 300, "the overhang past the last fret"),
    "board.nut_ledge": _length(0, 200, "the nut ledge"),
    "board.thickness": _length(1, 50, "the finished thickness"),
    "board.radius": _length(20, 50_000, "the radius"),
    "board.radius.nut": _length(20, 50_000, "the radius at the nut"),
    "board.radius.heel": _length(20, 50_000, "the radius at the heel"),
    "wire.tang": _length(0.2, 10, "the tang depth"),
    "wire.kerf": _length(0.1, 5, "the slot width"),
    "wire.clearance": _length(0, 5, "the clearance under the tang"),
    "web_min": _length(0, 20, "the least web"),
    "allowances.edge": _length(0, 200, "the waste at each edge"),
    "allowances.end": _length(0, 500, "the run-out at each end"),
    "allowances.proving": _length(0, 500, "the proving strip"),
    "allowances.flatten": _length(0, 20, "what flattening takes off each face"),
    "allowances.skim": _length(0, 20, "the skim"),
    "allowances.sanding": _length(0, 20, "what sanding takes off"),
    "blank.length": _length(10, 5000, "the blank's length"),
    "blank.width": _length(5, 1000, "the blank's width"),
    "blank.thickness": _length(0.5, 200, "the blank's thickness"),
    "cutter.diameter": _length(1, 200, "the cutter's diameter"),
    "cutter.max_depth": _length(0.05, 50, "the cutter's deepest bite"),
    "scallop_max": _length(0.001, 2, "the highest scallop allowed"),
    "jig.span": _length(50, 10_000, "the span between the formers"),
    "jig.end_clearance": _length(0, 2000, "the clearance at each end of the bed"),
    "jig.rail_spacing": _length(0, 2000, "the distance between the rails"),
    "jig.rail_diameter": _length(0, 200, "the rail diameter"),
    "jig.rail_plane": _length(1, 2000, "the height of the rail plane"),
    "jig.riser": _length(0, 1000, "the riser"),
    "jig.packing": _length(0, 100, "the packing"),
    "jig.edge_tolerance": _length(0, 10, "the tolerance at the edge"),
    "jig.former_margin": _length(0, 500, "the margin at the sides of a former"),
    "formers.radius": _length(10, 100_000, "the former's radius"),
    "formers.apex": _length(0, 5000, "the height of the former's apex"),
    "formers.count": Limit("count", 0, 1000, "how many there are of the former"),
    "climate.temperature_c": Limit("number", -20, 60, "the temperature"),
    "climate.humidity": Limit("number", 0, 100, "the humidity"),
    "climate.blank_mc": Limit("number", 0, 100, "the blank's moisture content"),
    "climate.season_low": Limit("number", 0, 100, "the driest season's humidity"),
    "climate.season_high": Limit("number", 0, 100, "the dampest season's humidity"),
    "climate.c_radial": Limit("number", 0, 0.02, "the radial movement coefficient"),
    "climate.c_tangential": Limit("number", 0, 0.02, "the tangential movement coefficient"),
}

# What is read off a board, as `manage.py gauge` takes it.
GAUGE_LIMITS: Final[dict[str, Limit]] = {
    "points": _length(-1000, 1000, "a place or a height"),
    "radius": _length(20, 50_000, "the radius wanted"),
    "radius.head": _length(20, 50_000, "the radius at the head end"),
    "radius.heel": _length(20, 50_000, "the radius at the heel end"),
    "corners.head_bass": _length(0, 200, "the thickness at the head's bass corner"),
    "corners.head_treble": _length(0, 200, "the thickness at the head's treble corner"),
    "corners.heel_bass": _length(0, 200, "the thickness at the heel's bass corner"),
    "corners.heel_treble": _length(0, 200, "the thickness at the heel's treble corner"),
    "width": _length(5, 1000, "the width"),
    "length": _length(10, 5000, "the length"),
    "tolerance": _length(0, 10, "the tolerance"),
}

LONGEST_NAME: Final = 60
MOST_FORMERS: Final = 1000


def limit_of(field: str) -> Limit:
    """Find the limit of a field, which may carry its place in a list (``formers[2].radius``, ``points[3][1]``)."""
    name = re.sub(r"\[[0-9]+\]", "", field)
    return LIMITS.get(name) or GAUGE_LIMITS[name]
