"""The card that says how a machine is to be set up before a run: what comes off, what goes on, what is proved."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from boards.ordering import Run
from boards.places import PLACES, machine_for, said
from boards.plans import Day
from shop.models import Shop


@dataclass(frozen=True, slots=True)
class Piece:
    """One place of the machine: what is to stand there, what to do for it, and whether it stands there already."""

    name: str
    needed: str
    do: str
    stays: bool

    @property
    def is_long(self) -> bool:
        """Tell whether it needs a line of its own at the size in which figures are written."""
        return len(self.needed) > 12


@dataclass(frozen=True, slots=True)
class Proof:
    """What is tried before the first board: what to do, the figure to reach, how far off it may be. Lengths are mm."""

    what: str
    figure: str = ""
    reach: float | None = None
    tolerance: Decimal | None = None


@dataclass(frozen=True, slots=True)
class SetupCard:
    """How a machine is set up for a run."""

    pieces: tuple[Piece, ...]
    proof: Proof
    button: str

    @property
    def changes(self) -> list[Piece]:
        """The pieces that somebody has to touch."""
        return [piece for piece in self.pieces if not piece.stays]

    @property
    def stay(self) -> list[Piece]:
        """Those that nobody has to touch; the first begins a sentence, the others go on with it."""
        stay = [piece for piece in self.pieces if piece.stays]
        return stay[:1] + [replace(piece, name=piece.name.lower()) for piece in stay[1:]]


# The place whose figure is proved on scrap rather than fitted. Elsewhere it is the lie of the work that is tried.
PROVED: Final = {"thicknessing": "thickness", "slotting": "slot_depth", "radiusing": "depth"}
BUTTONS: Final = {
    "thicknessing": "It stands so, thickness proved",
    "slotting": "It stands so, depth proved",
    "radiusing": "It stands so, depth proved",
    "tapering": "The template lies so",
    "gluing": "The cauls are ready, dry fit done",
}


def setup_card(stage: str, run: Run, day: Day) -> SetupCard:
    """Say how to go from what stands on a machine to what a run needs."""
    shop, needed, proved = day.shop, run.pieces, PROVED.get(stage, "")
    changed = machine_for(stage, shop).changed(day.now, needed)
    pieces = []
    for place in PLACES[stage]:
        if place.key == proved or not needed.get(place.key):
            continue
        to, now = said(needed[place.key], shop.style), said(day.now.get(place.key, ""), shop.style)
        do = "to fit" if not now else f"take off {now}" if now != to else "to set again"
        pieces.append(
            Piece(place.name.capitalize(), to, _riser(to) if place.key == "riser" else do, place.key not in changed)
        )
    return SetupCard(tuple(pieces), _proof(stage, run, shop), BUTTONS[stage])


def _riser(to: str) -> str:
    return "put it in" if to == "in" else "take it out"


def _proof(stage: str, run: Run, shop: Shop) -> Proof:
    kept = run.pieces.get(PROVED.get(stage, ""), "")
    reach = float(kept.removeprefix("mm:")) if kept else None
    match stage:
        case "thicknessing":
            return Proof("Prove the thickness on scrap", "Thickness", reach, shop.thickness_tolerance)
        case "slotting":
            return Proof("Prove the depth on the waste strip", "Slot depth", reach, shop.slot_tolerance)
        case "radiusing":
            on_neck = run.boards[0].blank.is_on_neck
            where = "on scrap as thick as the board on its neck" if on_neck else "on the waste strip beyond the heel"
            return Proof(f"Prove the depth {where}", "Left on the centreline", reach, shop.thickness_tolerance)
        case "tapering":
            return Proof("Lay the template on the centreline, not on an edge")
        case _:
            return Proof("Dry fit in the cauls, before any glue")
