"""Where a board that has been worked on is at odds with what another build or pattern wants."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from boards.models.made import AsMade, radius_words
from geometry.cautions import CLOSE
from geometry.errors import GeometryError
from geometry.frets import distance_from_nut
from geometry.outline import rough_widths, width_at
from geometry.recut import sagitta_apart
from geometry.request import BlankSize, Request, TwoScales
from geometry.result import Result, Size
from geometry.units import LengthStyle
from geometry.words import at_least, at_most, say
from shop.models import Build, Pattern, Shop
from shop.stages import STAGES

SAME = 0.005  # mm: what is shown alike to a hundredth is alike


@dataclass(frozen=True, slots=True)
class Clash:
    """One thing that is at odds, in words, and the stage that would put it right; empty where none would."""

    words: str
    back_to: str = ""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a build or a pattern wants of a board, with how far off the shop lets it be."""

    name: str
    stages: Sequence[str]
    request: Request
    result: Result
    shop: Shop

    @property
    def style(self) -> LengthStyle:
        """How the shop writes lengths."""
        return self.shop.style


def why_not(made: AsMade, done: Sequence[str], spec: Build | Pattern) -> str:
    """Say why a board, as it is by now, cannot go to a spec; nothing where it can."""
    found = order_clashes(done, spec.short_name, spec.route.stages)
    if made.machined and not found:
        shop = Shop.current()
        try:
            wanted = Wanted(spec.short_name, spec.route.stages, spec.as_request(), spec.figures(shop.style), shop)
        except GeometryError as error:
            return f"It has been worked on, and {spec.short_name} cannot be worked out: {error.words}"
        found = clashes(made, done, wanted)
    return say_clashes(found)


def say_clashes(found: Sequence[Clash]) -> str:
    """Say all that is at odds, and where there is a way to put it right, that."""
    words = " ".join(dict.fromkeys(clash.words for clash in found))
    if not all(clash.back_to for clash in found) or not found:
        return words
    first = min((clash.back_to for clash in found), key=list(STAGES).index)
    return f"{words} Send it back to {STAGES[first].label.lower()} first."


def clashes(made: AsMade, done: Sequence[str], wanted: Wanted) -> list[Clash]:
    """Find in what a board, as it is by now, cannot go the way that is wanted."""
    return [
        *order_clashes(done, wanted.name, wanted.stages),
        *_in_slots(made, done, wanted),
        *_in_curve(made, done, wanted),
        *_in_thickness(made, done, wanted),
        *_in_outline(made, done, wanted),
    ]


def order_clashes(done: Sequence[str], name: str, stages: Sequence[str]) -> list[Clash]:
    """Find what was done that a route has not, or has later on."""
    for stage in done:
        if stage not in stages:
            return [Clash(f"It is {STAGES[stage].done} already, which the route of {name} does not have.")]
    for has, wants in zip(done, stages, strict=False):
        if has != wants:
            words = f"It is {STAGES[has].done} already; the route of {name} wants it {STAGES[wants].done} before that."
            return [Clash(words, has)]
    return []


def _in_slots(made: AsMade, done: Sequence[str], wanted: Wanted) -> Iterator[Clash]:
    slots, style, name = made.slots, wanted.style, wanted.name
    if slots is None or "slotting" not in wanted.stages:
        return
    board, result = wanted.request.board, wanted.result
    if elsewhere := _frets_elsewhere(made, wanted):
        yield Clash(elsewhere)
        return
    curved = board.radius is not None
    if curved and slots.slotting != wanted.request.slotting:
        into = {"before radiusing": "the flat top", "after radiusing": "the curve"}
        yield Clash(f"Its slots follow {into[slots.slotting]}; {name} wants them to follow "
                    f"{into[wanted.request.slotting]}.")  # fmt: skip
    if slots.frets > board.frets and not slots.bass_scale:
        next_slot = float(distance_from_nut(slots.scale, board.frets + 1))
        if next_slot < result.board.length - CLOSE:
            yield Clash(
                f"It has {slots.frets} slots; {name} wants {board.frets}, and slot {board.frets + 1} would show."
            )
    elif slots.frets < board.frets and "slotting" in done:
        yield Clash(f"It has {slots.frets} slots; {name} wants {board.frets}.", "slotting")
    if board.nut_ledge > slots.head + CLOSE:
        yield Clash(f"It ends {at_most(slots.head, style)} behind its nut; {name} wants a ledge of "
                    f"{at_least(board.nut_ledge, style)} there.")  # fmt: skip
    kerf = wanted.request.wire.kerf
    if slots.kerf > kerf + SAME:
        yield Clash(f"Its slots are {say(slots.kerf, style)} wide; the wire of {name} wants {say(kerf, style)}.")
    elif slots.kerf < kerf - SAME and "slotting" in done:
        words = f"Its slots are {say(slots.kerf, style)} wide; the wire of {name} wants {say(kerf, style)}."
        yield Clash(words, "slotting")
    yield from _in_floor(made, done, wanted)


def _frets_elsewhere(made: AsMade, wanted: Wanted) -> str:
    """Say so where the slots of a board do not lie where they are wanted."""
    slots, scale, style = made.slots, wanted.request.board.scale, wanted.style
    assert slots is not None
    fan = scale if isinstance(scale, TwoScales) else None
    treble, bass = (fan.treble, fan.bass) if fan else (scale, None)
    if abs(slots.scale - treble) > SAME or _apart(slots.bass_scale, bass):
        has, wants = (
            f"{say(other, style)} to {say(one, style)}" if other else say(one, style)
            for one, other in ((slots.scale, slots.bass_scale), (treble, bass))
        )
        return f"It is slotted for a scale of {has}; {wanted.name} wants {wants}."
    if fan and slots.outline:
        if slots.square_fret != fan.square_fret:
            return f"Fret {slots.square_fret} stands square on it; {wanted.name} wants fret {fan.square_fret} square."
        board = wanted.request.board
        wants = (fan.inset, board.nut_width, board.heel_width, wanted.result.board.length)
        names = ("string inset", "width at the nut", "width at the heel", "length")
        for name, old, new in zip(names, slots.outline, wants, strict=True):
            if abs(old - new) > SAME:
                return (
                    f"Its fanned slots lie as for a {name} of {say(old, style)}; {wanted.name} wants {say(new, style)}."
                )
    return ""


def _apart(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is not other
    return abs(one - other) > SAME


def _in_floor(made: AsMade, done: Sequence[str], wanted: Wanted) -> Iterator[Clash]:
    """Hold the floor of the slots, counted from the glue face in the middle, against what is wanted there."""
    slots, style, shop = made.slots, wanted.style, wanted.shop
    ledger, figures = wanted.result.thickness, wanted.result.slots
    assert slots is not None
    flat = wanted.request.slotting == "before radiusing"
    if slots.slotting != wanted.request.slotting:
        return
    wants = (ledger.before_radiusing if flat else ledger.after_radiusing) - figures.depth_setting
    # The floor follows from a thickness and a depth, and each may be off.
    slack = float(shop.slot_tolerance + shop.thickness_tolerance) + CLOSE
    web, least = figures.web_least + slots.floor - wants, wanted.request.web_min
    said = (
        f"Its slots leave {say(slots.floor, style)} under them in the middle; {wanted.name} wants {say(wants, style)}"
    )
    if slots.floor < wants - slack and web < least - CLOSE:
        left = f"leaves {at_most(web, style)} at the edge" if web > 0 else "goes through at the edge"
        yield Clash(f"{said}: the deepest {left}, and {say(least, style)} is the least.")
    elif slots.floor > wants + slack and "slotting" in done:
        yield Clash(f"{said}.", "slotting")


def _in_curve(made: AsMade, done: Sequence[str], wanted: Wanted) -> Iterator[Clash]:
    if made.curve is None:
        return
    if made.slots is None and "slotting" in wanted.stages and wanted.request.slotting == "before radiusing":
        yield Clash(f"It has its curve and no slots yet; {wanted.name} wants them sawn into the flat top.")
    if not _is_other_curve(made, wanted):
        return
    has, wants = (radius_words(ends, wanted.style) for ends in (made.curve.radius, wanted.request.board.radius))
    words = f"It is radiused to {has}; {wanted.name} wants {wants}." if made.curve.radius else (
        f"It is flat; {wanted.name} wants a radius of {wants}."
    )  # fmt: skip
    needs = needed_thickness(made, wanted)
    if made.thickness is None or made.thickness < needs - float(wanted.shop.thickness_tolerance) - CLOSE:
        if made.thickness is not None:
            words += (
                f" To be cut again it would have to be {at_least(needs, wanted.style)} thick in the middle; "
                f"it is {at_most(made.thickness, wanted.style)}."
            )
        yield Clash(words)
    elif "radiusing" in done:
        yield Clash(words, "radiusing")


def _is_other_curve(made: AsMade, wanted: Wanted) -> bool:
    if made.curve is None:
        return False
    return max(map(abs, _curves_apart(made, wanted))) > float(wanted.shop.corner_tolerance) + CLOSE


def _curves_apart(made: AsMade, wanted: Wanted) -> tuple[float, float]:
    assert made.curve is not None
    length = wanted.result.board.length
    return sagitta_apart(wanted.request.board, length, made.curve.radius, made.curve.length)


def needed_thickness(made: AsMade, wanted: Wanted) -> float:
    """Say how thick a board has to be by now in the middle, in mm, to become what is wanted."""
    ledger = wanted.result.thickness
    if made.curve is None:
        if "radiusing" in made.unknown:
            return ledger.after_radiusing
        return ledger.intake_min if made.thickness is None else ledger.before_radiusing
    if _is_other_curve(made, wanted):
        return ledger.after_radiusing + max(0.0, _curves_apart(made, wanted)[1])
    return ledger.after_radiusing


def _in_thickness(made: AsMade, done: Sequence[str], wanted: Wanted) -> Iterator[Clash]:
    if made.thickness is None or _is_other_curve(made, wanted):
        return  # a blank as it came is judged by its size, another curve with its curve
    needs, tolerance = needed_thickness(made, wanted), float(wanted.shop.thickness_tolerance) + CLOSE
    words = f"It is {say(made.thickness, wanted.style)} thick; {wanted.name} wants {say(needs, wanted.style)}"
    words += " after radiusing." if made.curve else "."
    if made.thickness < needs - tolerance:
        yield Clash(words)
    elif made.thickness > needs + tolerance:
        stage = "radiusing" if made.curve else "thicknessing"
        if stage in done:
            yield Clash(words, stage)


def _in_outline(made: AsMade, done: Sequence[str], wanted: Wanted) -> Iterator[Clash]:
    if made.outline is None:
        return
    style, name, tolerance = wanted.style, wanted.name, float(wanted.shop.width_tolerance) + CLOSE
    for where, has, wants in _widths(made, wanted):
        words = f"It is tapered to {say(has, style)} at the {where}; {name} wants {say(wants, style)} there."
        if has < wants - tolerance:
            yield Clash(words)
        elif has > wants + tolerance and "tapering" in done:
            yield Clash(words, "tapering")
    overall = wanted.result.board.overall
    if made.outline.overall < overall - tolerance:
        yield Clash(f"It is cut to a length of {say(made.outline.overall, style)}; {name} wants {say(overall, style)}.")


def _widths(made: AsMade, wanted: Wanted) -> list[tuple[str, float, float]]:
    """Give the width that a tapered board has and the one that is wanted, at the nut and at the heel wanted."""
    was, board = made.outline, wanted.request.board
    assert was is not None
    nut, heel = rough_widths(board.nut_width, board.heel_width, wanted.request.allowances.edge)
    at_heel = float(width_at(wanted.result.board.length, was.nut_width, was.heel_width, was.length))
    return [("nut", was.nut_width, nut), ("heel", at_heel, heel)]


def spare(size: BlankSize, made: AsMade, wanted: Wanted) -> Size:
    """Tell how much larger a board is by now than it has to be, in mm; negative is too small."""
    over = wanted.result.blank_needed.margin_of(size)
    length, width = over.length, over.width
    if made.outline is not None:
        length = made.outline.overall - wanted.result.board.overall
        width = min(has - wants for _where, has, wants in _widths(made, wanted))
    thickness = size.thickness if made.thickness is None else made.thickness
    return Size(length, width, thickness - needed_thickness(made, wanted))
