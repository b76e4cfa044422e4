"""The places of each machine: what stands in them, what changing it takes, and how that is said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from geometry.changeover import Machine
from geometry.units import LengthStyle
from geometry.words import say
from shop.drawings.words import spoken_radius
from shop.models import Shop

Pieces = Mapping[str, str]
"""What stands on a machine, or what a board needs there: place → piece. A piece is kept as ``kind:value``."""


@dataclass(frozen=True, slots=True)
class Place:
    """One place of a machine.

    ``name`` is what stands there, ``minutes`` the shop's setting for changing it. ``set_to`` says how a length is set
    there; a place without it holds a thing that is changed for another.
    """

    key: str
    name: str
    minutes: str
    set_to: str = ""


PLACES: Final[dict[str, tuple[Place, ...]]] = {
    "thicknessing": (Place("thickness", "thickness", "thickness_minutes", "Set the thickness to"),),
    "slotting": (
        Place("scale", "scale", "scale_minutes"),
        Place("blade", "blade", "blade_minutes"),
        Place("slot_depth", "slot depth", "slot_depth_minutes", "Set the slot depth to"),
    ),
    "radiusing": (
        Place("head_former", "head former", "former_minutes"),
        Place("heel_former", "heel former", "former_minutes"),
        Place("riser", "riser", "riser_minutes"),
        Place("cutter", "cutter", "cutter_minutes"),
        Place("depth", "depth", "depth_minutes", "Set the depth: it leaves"),
    ),
    "tapering": (Place("template", "template", "template_minutes"),),
    "gluing": (Place("cauls", "cauls", "cauls_minutes"),),
}

# A board that lies the other way round has its head at the jig's other former.
_FORMERS: Final = ("head_former", "heel_former")
SWAPPED: Final = {"radiusing": _FORMERS}
# Whatever holds the cutter or the board has been touched: the depth is set and proved again.
ANEW: Final = {
    "radiusing": {"depth": (*_FORMERS, "riser", "cutter")},
    "slotting": {"slot_depth": ("blade",)},
}


def machine_for(stage: str, shop: Shop) -> Machine:
    """Give the machine of a stage with the shop's minutes."""
    return Machine(
        {place.key: float(getattr(shop, place.minutes)) for place in PLACES[stage]},
        SWAPPED.get(stage),
        ANEW.get(stage, {}),
    )


def named(name: str) -> str:
    """Keep a piece by its name."""
    return f"name:{name}"


def length(mm: float) -> str:
    """Keep a length as a piece: no machine of the shop tells apart what agrees to 0.01 mm."""
    return f"mm:{mm:.2f}"


def fan(bass: float, treble: float, square_fret: int, *outline: float) -> str:
    """Keep fanned frets as a piece: both scales, the fret that lies square, and the outline that they lean with."""
    return f"fan:{bass:.2f}/{treble:.2f}/{square_fret}/" + "/".join(f"{value:.2f}" for value in outline)


def taper(nut: float, heel: float, over: float) -> str:
    """Keep an outline as a piece: its widths, and the length between them."""
    return f"taper:{nut:.2f}/{heel:.2f}/{over:.2f}"


def radii(*ends: float | None) -> str:
    """Keep a radius as a piece, or both of a cone; None is flat."""
    return "radius:" + "/".join("flat" if end is None else f"{end:.2f}" for end in dict.fromkeys(ends))


def to_make(radius: float | None) -> str:
    """Keep a former that the shop does not have, by the radius that it would have to cut."""
    return f"none:{'flat' if radius is None else f'{radius:.2f}'}"


def name_of(piece: str) -> str:
    """Give the name of a piece that is kept by its name; nothing for any other."""
    kind, _, name = piece.partition(":")
    return name if kind == "name" else ""


def said(piece: str, style: LengthStyle) -> str:
    """Say a piece as the shop does: lengths in its unit, names as they are written on the thing."""
    kind, _, value = piece.partition(":")
    match kind:
        case "mm":
            return say(float(value), style)
        case "fan":
            bass, treble, square, *_ = value.split("/")
            return f"{say(float(bass), style)} and {say(float(treble), style)}, fret {square} square"
        case "taper":
            nut, heel, over = (say(float(each), style) for each in value.split("/"))
            return f"{nut} to {heel} over {over}"
        case "radius":
            return " to ".join(spoken_radius(_radius(end), style) for end in value.split("/"))
        case "none":
            return f"one for {spoken_radius(_radius(value), style)}"
        case _:
            return value


def _radius(text: str) -> float | None:
    return None if text == "flat" else float(text)


def change_words(stage: str, now: Pieces, needed: Pieces, changed: Sequence[str], style: LengthStyle) -> list[str]:
    """Say what to change from one setup to the next, one sentence for each place that changes."""
    words = []
    for place in _both_formers(PLACES[stage], now, needed, changed):
        new, old = needed[place.key], now.get(place.key, "")
        if place.key == "riser":
            words.append("Put the riser in" if new == named("in") else "Take the riser out")
        elif place.set_to:
            words.append(f"{place.set_to} {said(new, style)}" if new != old else f"Prove the {place.name} again")
        elif old:
            words.append(f"Change the {place.name}: {said(new, style)} for {said(old, style)}")
        else:
            words.append(f"Fit the {place.name}: {said(new, style)}")
    return words


def _both_formers(places: Sequence[Place], now: Pieces, needed: Pieces, changed: Sequence[str]) -> list[Place]:
    """Take the places that change; two formers that are changed alike are said once."""
    found = [place for place in places if place.key in changed]
    ends = [place for place in found if place.key in _FORMERS]
    if len(ends) == 2 and all(len({pieces.get(end.key) for end in ends}) == 1 for pieces in (now, needed)):
        found[:2] = [replace(ends[0], name="formers at both ends")]
    return found


def standing_words(stage: str, pieces: Pieces, style: LengthStyle) -> str:
    """Say what stands on a machine; nothing if that is not known of any place."""
    parts = []
    for place in PLACES[stage]:
        if piece := pieces.get(place.key, ""):
            parts.append(f"{place.name} {said(piece, style)}")
    return ", ".join(parts)
