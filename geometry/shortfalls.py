"""What to know of a board that came out otherwise than planned: what it has left to give, and what it has not."""

from __future__ import annotations

from collections.abc import Iterator

from geometry.measured import CLOSE
from geometry.request import Request
from geometry.result import Result, Warning
from geometry.units import LengthStyle
from geometry.words import at_least, at_most, say


def shortfalls(request: Request, result: Result, style: LengthStyle) -> Iterator[Warning]:
    """Go through what the readings of a board give cause to say; nothing where nothing was read of it.

    The codes ``thin-board`` and ``shallow-slot`` come of readings alone, which the JSON contract has none of.
    """
    if result.rests is not None:
        yield from _thin_board(request, result, style)
        yield from _shallow_slot(request, result, style)


def _thin_board(request: Request, result: Result, style: LengthStyle) -> Iterator[Warning]:
    """Say what gives where a board is too thin for what was planned: the skim, then the sanding, then the board."""
    rests, ledger, wanted = result.rests, result.thickness, request.board.thickness
    if rests.short <= CLOSE:
        return
    basis = rests.words("after", style)
    planned = ledger.after_radiusing + rests.short
    if ledger.finished < wanted - CLOSE:
        message = (
            f"The board is {at_least(wanted - ledger.finished, style)} too thin to finish at {say(wanted, style)}: "
            f"{at_most(ledger.finished, style)} is all it has, with nothing left to sand. {basis} Another blank would "
            "do, or a spec that is as thin."
        )
        yield Warning("thin-board", "stop", message, ledger.finished, wanted)
        return
    sanding = ledger.after_radiusing - ledger.finished
    left = f"{at_most(sanding, style)} is left for sanding out the passes, of {say(request.allowances.sanding, style)}."
    if rests.measured.centre is None:
        what = (
            f"There is no skim left: set the cutter to leave {say(ledger.after_radiusing, style)} in the middle, "
            f"{at_least(rests.short, style)} lower than planned, or it will pass over the middle."
        )
    elif sanding >= request.scallop_max - CLOSE:
        return  # what the passes left still comes out
    else:
        what = f"Radiusing left {at_least(rests.short, style)} less than planned in the middle."
    yield Warning("thin-board", "caution", f"{what} {left} {basis}", ledger.after_radiusing, planned)


def _shallow_slot(request: Request, result: Result, style: LengthStyle) -> Iterator[Warning]:
    """Warn of slots in which the tang will not sit once the board is finished."""
    rests, wire = result.rests, request.wire
    if rests.measured.slot_depth is None or rests.seat >= wire.tang - CLOSE:
        return
    lacks = wire.tang + wire.clearance - rests.seat
    message = (
        f"The tang will not sit at the edge of slot {result.slots.deepest_fret}: finished, the slot will be "
        f"{at_most(max(rests.seat, 0.0), style)} deep there and the tang is {say(wire.tang, style)}. Saw the slots "
        f"{at_least(lacks, style)} deeper. {rests.words('slots', style)}"
    )
    yield Warning("shallow-slot", "stop", message, rests.seat, wire.tang)
