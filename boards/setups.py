"""Setups: what has to stand on a machine for a board. Boards that share one go through together."""

from __future__ import annotations

from dataclasses import dataclass

from boards.figures import Worked
from boards.places import Pieces, fan, length, named, radii, taper, to_make
from geometry.request import TwoScales
from geometry.units import LengthStyle, format_length
from shop.drawings.words import spoken_radius
from shop.models import RadiusBy, Shop


@dataclass(frozen=True, slots=True)
class Setting:
    """One thing to set: its name and its length in mm, or a word."""

    label: str
    length: float | None = None
    words: str = ""

    @property
    def is_long(self) -> bool:
        """Tell whether it needs a line of its own on a page."""
        return len(self.words) > 8


@dataclass(frozen=True, slots=True)
class Setup:
    """What stands on the machine: its pieces by place (`boards.places`), a line of words, and the things to set."""

    pieces: Pieces
    words: str
    settings: tuple[Setting, ...]

    @property
    def key(self) -> tuple[str, ...]:
        """Give what boards that share it have in common."""
        return tuple(self.pieces.values())


def setup_at(stage: str, board: Worked, shop: Shop, *, turned: bool = False) -> Setup:
    """Say what has to stand on the machine for a board in a run; `turned`: for one that lies the other way round.

    The slot depth counts from the thickness that was read of each board. A saw is not set anew for each: its depth goes
    in steps of the tolerance, so that it is off by half of that at most.
    """
    return setup_of(stage, board, shop.style, turned=turned, slot_step=float(shop.slot_tolerance))


def setup_of(stage: str, board: Worked, style: LengthStyle, *, turned: bool = False, slot_step: float = 0.0) -> Setup:
    """Say what has to stand on the machine for one board at a stage (`setup_at` for a run)."""
    request, result = board.request, board.result
    spec, radius = request.board, request.board.radius
    nut, heel = (radius.nut, radius.heel) if radius else (None, None)
    same = "" if nut != heel else spoken_radius(nut, style)
    curve = same or f"{spoken_radius(nut, style)} at the head to {spoken_radius(heel, style)} at the heel"
    match stage:
        case "thicknessing":
            to = result.thickness.before_radiusing
            words = f"To {format_length(to, style)}"
            return Setup({"thickness": length(to)}, words, (Setting("Leave", to),))
        case "slotting":
            return _slotting(board, style, slot_step)
        case "radiusing":
            return _radiusing(board, style, curve, turned=turned)
        case "tapering":
            sides = (spec.nut_width, spec.heel_width, result.board.length)
            nut_words, heel_words, over = (format_length(side, style) for side in sides)
            return Setup(
                {"template": taper(*sides)},
                f"{nut_words} to {heel_words} over {over}",
                (
                    Setting("Finished at the nut", spec.nut_width),
                    Setting("Finished at the heel", spec.heel_width),
                    Setting("Over", result.board.length),
                ),
            )
        case "gluing":
            return Setup({"cauls": radii(nut, heel)}, f"Cauls {curve}", (Setting("Cauls", words=curve),))
        case _:
            raise ValueError(f"There is no stage {stage!r}.")


def _slotting(board: Worked, style: LengthStyle, step: float) -> Setup:
    """Say what has to stand at the saw: the scale's template or stop, the blade, its depth."""
    depth, scale, kerf = board.result.slots.depth_setting, board.request.board.scale, board.request.wire.kerf
    if step:
        depth = round(depth / step) * step
    if isinstance(scale, TwoScales):
        scales = (Setting("Scale, bass", scale.bass), Setting("Scale, treble", scale.treble))
        # What the fan leans with besides: another outline wants another template.
        spec, over = board.request.board, board.result.board.length
        layout = fan(scale.bass, scale.treble, scale.square_fret, scale.inset, spec.nut_width, spec.heel_width, over)
    else:
        scales, layout = (Setting("Scale", scale),), length(scale)
    words = " and ".join(format_length(setting.length, style) for setting in scales)
    return Setup(
        {
            "scale": layout,
            "blade": length(kerf),
            "slot_depth": length(depth),
        },
        f"Scale {words}, {format_length(depth, style)} deep",
        (*scales, Setting("Slot depth", depth), Setting("Slot width", kerf)),
    )


def _radiusing(board: Worked, style: LengthStyle, curve: str, *, turned: bool) -> Setup:
    """Say what has to stand on the jig, or which sanding block to take."""
    request, setup, radius = board.request, board.result.setup, board.request.board.radius
    nut, heel = (radius.nut, radius.heel) if radius else (None, None)
    if board.blank.spec.radius_by == RadiusBy.BLOCK:
        name = str(board.block.block) if board.block else "none that spans it"
        return Setup(
            {"block": named(name), "curve": radii(nut, heel)},  # from its drawer: no place of the jig
            f"Sanding block {name}, for {curve}",
            (
                Setting("Sanding block", words=name),
                Setting("Radius wanted", words=curve),
                *((Setting("Edge off at worst", board.block.error),) if board.block else ()),
            ),
        )
    riser = "out" if board.blank.is_on_neck else "in"
    cutter = (Setting("Cutter", request.cutter.diameter),) if request.cutter else ()
    besides = {
        "riser": named(riser),
        "cutter": length(request.cutter.diameter) if request.cutter else "",
        "depth": length(board.result.thickness.after_radiusing),
    }
    if setup and setup.fits:
        ends = (setup.head_former, setup.heel_former)
        head, end = ends[::-1] if turned else ends
        which = f"formers {head} at both ends" if head == end else f"formers {head} and {end}, head end {head}"
        return Setup(
            {"head_former": named(head), "heel_former": named(end), **besides},
            f"Fit {which}, riser {riser}",
            (
                Setting("Former at the head", words=head),
                Setting("Former at the heel", words=end),
                Setting("Riser", words=riser),
                *cutter,
            ),
        )
    nut, heel = (heel, nut) if turned else (nut, heel)
    if nut == heel:
        settings = (Setting("Radius at both ends", words=spoken_radius(nut, style)),)
    else:
        settings = (
            Setting("Radius at the head", words=spoken_radius(nut, style)),
            Setting("Radius at the heel", words=spoken_radius(heel, style)),
        )
        curve = f"{spoken_radius(nut, style)} at the head to {spoken_radius(heel, style)} at the heel"
    return Setup(
        {"head_former": to_make(nut), "heel_former": to_make(heel), **besides},
        f"{curve[:1].upper()}{curve[1:]}, riser {riser}",
        (*settings, Setting("Riser", words=riser), *cutter),
    )
