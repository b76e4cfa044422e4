"""How deep to saw, and what is left under and over the slots."""

from __future__ import annotations

from geometry.explained.fretboard import at_fret
from geometry.explained.sheet import OWN, Sheet, figure
from geometry.explained.thickness import take_after, take_finished, thinner_end

SLOTS = "Slots"


def _take_wire(s: Sheet, clearance: bool = True) -> None:
    s.take("T", s.asked.wire.tang, "Tang of the wire", "wire")
    if clearance:
        s.take("c", s.asked.wire.clearance, "Clearance under the tang", "allowance")


def _flat(s: Sheet) -> bool:
    return s.asked.slotting == "before radiusing"


def _uneven(s: Sheet) -> bool:
    """Tell whether the flat top was read as not level."""
    read = s.measured
    ends = [end for end in (read.head, read.heel) if end is not None]
    if read.at_most is not None and read.slot_depth is None:
        ends = [min(end, read.at_most) for end in ends]
    return _flat(s) and len(set(ends)) > 1


def _top(s: Sheet) -> None:
    """Take the height of the flat top at its thinner end: ``t``."""
    if s.found.rests is None:
        s.take("t", s.found.thickness.before_radiusing, "Thickness before radiusing", "figure:before")
    else:
        thinner_end(s)


def _rises(s: Sheet, *places: str) -> list[str]:
    """Work out how much higher than at its thinner end the flat top lies at places along the board."""
    request, read = s.asked, s.measured
    cap = read.at_most if read.at_most is not None and read.slot_depth is None else None
    for symbol, value, end in (("t_1", read.head, "head"), ("t_2", read.heel, "heel")):
        s.read(symbol, end, f"Thickness at the {end}")
        if cap is not None and cap < value:
            s.take(symbol, cap, f"Thickness at the {end}, by now", "reading:at_most")
    length = request.blank.length if request.blank else s.found.blank_needed.length
    s.take("l", length, "Length of the blank", "blank" if request.blank else "figure:blank-length")
    s.take("e_h", request.allowances.end, "Run-out at each end", "allowance")
    s.take("x_0", s.found.board.length - s.found.board.overall, "The board's head end, from the nut face",
           "figure:overall")  # fmt: skip
    made = []
    for place in places:
        mark = place.partition("_")[2]
        symbol = f"r_{mark}" if mark else "r"
        s.step(symbol, f"t_1 - t + (t_2 - t_1) * ({place} - x_0 + e_h) / l", "The top lies higher there by", "fine")
        made.append(symbol)
    return made


def _lower(s: Sheet, fret: int) -> None:
    """Work out how far below the top of the thinner end the saw must count from at a fret, in all: ``s``."""
    at_fret(s, fret)
    if not _uneven(s):
        return
    if s.fanned:
        _rises(s, "x_1", "x_2")
        s.step("s_r", "max(s_1 + r_1, s_2 + r_2)", "Sagitta and rise, at the end where they come to more", "fine")
    else:
        _rises(s, "x")
        s.step("s_r", "s + r", "Sagitta and rise together", "fine")


def _lower_symbol(s: Sheet) -> str:
    return "s_r" if _uneven(s) else "s"


def _lift(s: Sheet) -> str:
    """Name the least rise of the top along the slot; 0 on a level one."""
    if not _uneven(s):
        return ""
    if s.fanned:
        s.step("r", "min(r_1, r_2)", "The top over the slot, at its lower end", "fine")
    return "r"


def _depth(s: Sheet, fret: int) -> None:
    s.source = OWN
    if s.measured.slot_depth is not None:
        s.read("h_s", "slot_depth", "Depth of the slots")
        s.step("h", "h_s", "As they are sawn")
        s.method = "The slots are in the board: their depth is what it is."
        return
    take_finished(s)
    _take_wire(s)
    if _flat(s):
        _top(s)
        _lower(s, fret)
        s.step("h", f"t - t_f + T + c + {_lower_symbol(s)}",
               "From the flat top: down to the finished edge, and tang and clearance below it")  # fmt: skip
    else:
        take_after(s)
        s.step("h", "t_a - t_f + T + c", "From the curve: down to the finished surface, and tang and clearance below")


@figure("slot", "Slot depth", SLOTS, "How deep does the slot of this fret have to be?",
        lambda r, n: r.board.frets[n].slot_depth, per="fret")  # fmt: skip
def _slot(s: Sheet, fret: int) -> None:
    _depth(s, fret)


@figure("slot-setting", "Saw setting", SLOTS, "How deep is the saw set for the whole board?",
        lambda r, n: r.slots.depth_setting)  # fmt: skip
def _setting(s: Sheet, _: int) -> None:
    fret = s.found.slots.deepest_fret
    _depth(s, fret)
    if s.measured.slot_depth is None and _flat(s):
        s.method = f"One setting for all slots: fret {fret} asks for the deepest."


def _web(s: Sheet, fret: int, *, sawn: bool) -> str:
    """Work out what is left under a slot at the board's edge; ``sawn``: under the slots that are in it."""
    s.source = OWN
    read = s.measured
    if not (sawn and read.slot_depth is not None):
        take_finished(s)
        _take_wire(s)
        if _uneven(s):
            thinner_end(s)
        _lower(s, fret)
        lift = _lift(s)
        s.step("w", f"t_f - T - c - {f'({_lower_symbol(s)} - {lift})' if lift else 's'}",
               "From the finished edge down, less tang and clearance")  # fmt: skip
    else:
        s.read("h", "slot_depth", "Depth of the slots")
        if _flat(s):
            thinner_end(s)
            if _uneven(s):
                _lower(s, fret)
            lift = _lift(s)
            s.step("w", f"t + {lift} - h" if lift else "t - h", "What the saw left under the slot")
        else:
            take_after(s)
            at_fret(s, fret)
            s.step("w", "t_a - s - h", "What the saw left under the slot")
    return "w"


def _under_floor(s: Sheet, fret: int) -> None:
    """Where slots are in the board from before, the web is no more than what they left."""
    s.read("h_f", "floor", "Floor of the slots that are in it, over the glue face")
    if _flat(s):
        s.step("w_l", "min(w, h_f)", "No more than the slots that are in it left")
    else:
        if "s" not in s.steps:
            at_fret(s, fret)
        s.step("w_l", "min(w, h_f - s)", "No more than the slots that are in it left")


@figure("web", "Web", SLOTS, "How much wood is left under the slot of this fret?",
        lambda r, n: r.board.frets[n].web, per="fret")  # fmt: skip
def _web_at(s: Sheet, fret: int) -> None:
    _web(s, fret, sawn=True)
    if s.measured.floor is not None:
        _under_floor(s, fret)


def _lift_at(s: Sheet, fret: int) -> float:
    trial = Sheet(s.asked, s.found)
    thinner_end(trial)
    _lower(trial, fret)
    return trial.steps[_lift(trial)].value


def _lowest_top(s: Sheet) -> int:
    """Find the fret at which an uneven top lies lowest: one of the two at the ends, as it rises evenly."""
    return min((1, s.asked.board.frets), key=lambda fret: _lift_at(s, fret))


def _planned_web(s: Sheet) -> None:
    """Work out the least web that one saw setting leaves, as sawn by the plan: ``w``."""
    fret = s.found.slots.deepest_fret
    if not _uneven(s):
        _web(s, fret, sawn=False)
        s.method = f"The floor is level: what is left at fret {fret} is left everywhere." if _flat(s) else \
            f"It is least at fret {fret}, where the edge is lowest."  # fmt: skip
        return
    take_finished(s)
    _take_wire(s)
    thinner_end(s)
    _lower(s, fret)
    lowest = _lowest_top(s)
    s.take("r_0", _lift_at(s, lowest), f"Rise of the top at fret {lowest}, where it lies lowest", "figure:web", "fine")
    s.step("w", f"t_f - T - c - ({_lower_symbol(s)} - r_0)", "What the setting leaves where the top lies lowest")
    s.method = f"Fret {fret} asks for the deepest setting; the top lies lowest at fret {lowest}."


@figure("web-least", "Least web", SLOTS, "How much wood is left under the slots where it is least?",
        lambda r, n: r.slots.web_least)  # fmt: skip
def _web_least(s: Sheet, _: int) -> None:
    read, fret = s.measured, s.found.slots.deepest_fret
    if read.slot_depth is not None:
        fret = min(s.found.board.frets[1:], key=lambda line: line.web).fret
        _web(s, fret, sawn=True)
        s.method = f"It is least at fret {fret}."
    else:
        _planned_web(s)
        s.source = OWN
    if read.floor is not None:
        _under_floor(s, fret)


@figure("void", "Empty under the tang", SLOTS, "How much stays empty under the tang on the centreline, at most?",
        lambda r, n: r.slots.void_at_centre)  # fmt: skip
def _void(s: Sheet, _: int) -> None:
    read = s.measured
    s.source = OWN
    take_finished(s)
    _take_wire(s, clearance=read.slot_depth is None)
    if read.slot_depth is not None:
        s.read("h", "slot_depth", "Depth of the slots")
        if not _flat(s):
            take_after(s)
            s.step("v", "t_f - (t_a - h) - T", "From the slot's floor up to the tang")
        elif _uneven(s):
            thinner_end(s)
            lowest = _lowest_top(s)
            _lower(s, lowest)
            s.step("v", f"t_f - (t + {_lift(s)} - h) - T", "From the slot's floor up to the tang")
        else:
            thinner_end(s)
            s.step("v", "t_f - (t - h) - T", "From the slot's floor up to the tang")
    elif _flat(s):
        _planned_web(s)
        s.step("v", "t_f - w - T", "From the slot's floor up to the tang, in the middle")
    else:
        s.step("v", "c", "The floor follows the curve: the clearance alone")
    if read.floor is not None:
        s.read("h_f", "floor", "Floor of the slots that are in it, over the glue face")
        s.step("v_l", "max(v, t_f - h_f - T)", "No less than under the slots that are in it")
