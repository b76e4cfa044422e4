"""Setups: what has to stand on a machine for a board. Boards that share one go through together."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from boards.figures import Worked
from boards.places import Pieces, length, named, radii, taper, to_make
from geometry.request import TwoScales
from geometry.units import LengthStyle, format_length
from shop.drawings.words import spoken_radius
from shop.models import RadiusBy


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


@dataclass(slots=True)
class Group:
    """The boards of one setup, in the order of their due dates."""

    setup: Setup
    boards: list[Worked] = field(default_factory=list)

    @property
    def due_on(self) -> date | None:
        """The earliest day that a board of the group is due."""
        return min((day for board in self.boards if (day := _due(board))), default=None)


def _due(board: Worked) -> date | None:
    return board.blank.build.due_on if board.blank.build else None


def setup_of(stage: str, board: Worked, style: LengthStyle, *, turned: bool = False) -> Setup:
    """Say what has to stand on the machine for a board at a stage; `turned`: for one that lies the other way round."""
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
            return _slotting(board, style)
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


def _slotting(board: Worked, style: LengthStyle) -> Setup:
    """Say what has to stand at the saw: the scale's template or stop, the blade, its depth."""
    depth, scale, kerf = board.result.slots.depth_setting, board.request.board.scale, board.request.wire.kerf
    if isinstance(scale, TwoScales):
        scales = (Setting("Scale, bass", scale.bass), Setting("Scale, treble", scale.treble))
    else:
        scales = (Setting("Scale", scale),)
    words = " and ".join(format_length(setting.length, style) for setting in scales)
    return Setup(
        {
            "scale": length(*(setting.length for setting in scales)),
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


def grouped(stage: str, boards: Iterable[Worked], style: LengthStyle) -> list[Group]:
    """Group boards by setup; the group with the earliest due date first, undated last, and so inside a group."""
    groups: dict[tuple, Group] = {}
    for board in sorted(boards, key=lambda board: (_due(board) or date.max, board.blank.number)):
        setup = setup_of(stage, board, style)
        groups.setdefault(setup.key, Group(setup)).boards.append(board)
    return sorted(groups.values(), key=lambda group: (group.due_on or date.max, group.setup.words))
