"""Which setup a board went through on, as far as the log tells: what its stage made says what stood on the machine."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from boards.models.made import radius_words
from boards.places import Pieces, fan, length, machine_for, taper, to_make
from geometry.changeover import Machine
from geometry.request import EndRadii
from geometry.words import say
from shop.models import Shop

# The places of each machine that the log tells about. What glue was pressed with, the riser and the cutter it does not.
TOLD: Final[dict[str, tuple[str, ...]]] = {
    "thicknessing": ("thickness",),
    "slotting": ("scale", "blade", "slot_depth"),
    "radiusing": ("head_former", "heel_former", "depth"),
    "tapering": ("template",),
    "gluing": (),
}
NOT_TOLD: Final = "the riser and the cutter of the radius jig, and the cauls"


def told_machine(stage: str, shop: Shop) -> Machine:
    """Give the machine of a stage with those places alone that the log tells about."""
    whole, told = machine_for(stage, shop), TOLD[stage]
    minutes = {place: takes for place, takes in whole.minutes.items() if place in told}
    anew = {place: [each for each in after if each in told] for place, after in whole.anew.items() if place in told}
    return Machine(minutes, whole.swapped, anew)


def pieces_of(stage: str, made: Mapping[str, Any], shop: Shop) -> Pieces | None:
    """Say what stood on the machine; None where the log does not tell, nothing where no machine was set up."""
    if stage == "gluing":
        return {}
    if not made:
        return None
    match stage:
        case "thicknessing":
            return {"thickness": length(float(made["thickness"]))}
        case "slotting":
            depth = length(_set_to(made, shop))
            return {"scale": _scale(made), "blade": length(float(made["kerf"])), "slot_depth": depth}
        case "radiusing":
            if made.get("jig") == "":  # by a sanding block, from its drawer
                return {}
            ends = [_mm(made, "radius_nut"), _mm(made, "radius_heel")]
            left = float(made["thickness"])
            return {"head_former": to_make(ends[0]), "heel_former": to_make(ends[1]), "depth": length(left)}
        case "tapering":
            return {"template": taper(*(float(made[name]) for name in ("nut_width", "heel_width", "length")))}
        case _:
            return None


def setup_key(pieces: Pieces | None) -> str:
    """Give what boards of one setup share, as an address has it."""
    return "none" if pieces is None else "|".join(pieces.values()) or "nothing"


def _set_to(made: Mapping[str, Any], shop: Shop) -> float:
    """Say what a saw was set to: as on the bench, in steps of the tolerance, not anew for every board."""
    step, depth = float(shop.slot_tolerance), float(made["depth"])
    return round(depth / step) * step if step else depth


def _scale(made: Mapping[str, Any]) -> str:
    if "bass_scale" not in made:
        return length(float(made["scale"]))
    outline = (float(made[name]) for name in ("nut_width", "heel_width", "length"))
    return fan(float(made["bass_scale"]), float(made["scale"]), made["square_fret"], float(made["inset"]), *outline)


def _mm(made: Mapping[str, Any], name: str) -> float | None:
    value = made.get(name)
    return None if value is None else float(value)


def setup_words(stage: str, made: Mapping[str, Any], shop: Shop) -> str:
    """Say a setup in a few words."""
    style = shop.style
    if stage == "gluing":
        return "Glued up"
    if not made:
        return "Not kept in the log"
    match stage:
        case "thicknessing":
            return f"To {say(float(made['thickness']), style)}"
        case "slotting":
            fanned = f"{say(float(made['bass_scale']), style)} to " if "bass_scale" in made else ""
            scale, depth = say(float(made["scale"]), style), say(_set_to(made, shop), style)
            return f"Scale {fanned}{scale}, {say(float(made['kerf']), style)} wide, {depth} deep"
        case "radiusing":
            nut, heel = _mm(made, "radius_nut"), _mm(made, "radius_heel")
            ends = EndRadii(nut, heel) if nut and heel else None
            if made.get("jig") == "":
                return f"Radius {radius_words(ends, style)}, by sanding block"
            return f"Radius {radius_words(ends, style)}, leaving {say(float(made['thickness']), style)}"
        case _:
            nut, heel, over = (say(float(made[name]), style) for name in ("nut_width", "heel_width", "length"))
            return f"{nut} to {heel} over {over}"
