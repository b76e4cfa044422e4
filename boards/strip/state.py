"""What the strip shows, taken from a blank's log and from its board as geometry worked it out."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from geometry.outline import outline
from geometry.request import Request
from geometry.result import Point, Result

DONE_WORDS = {
    "thicknessing": "thicknessed",
    "slotting": "slotted",
    "radiusing": "radiused",
    "tapering": "tapered",
    "gluing": "glued",
}
Corners = tuple[Point, Point, Point, Point]  # head bass, head treble, heel treble, heel bass
Line = tuple[Point, Point]


@dataclass(frozen=True, slots=True)
class StripBoard:
    """The board that a blank is for: what is known of its shape, in mm from the nut face and from the centreline."""

    finished: Corners
    rough: Corners
    frets: tuple[Line, ...]
    blank_head: float
    end: float
    radius: float | None
    thickness: float

    @classmethod
    def of(cls, request: Request, result: Result) -> StripBoard:
        """Take the shape from what was asked of geometry and what it answered."""
        board, allow = request.board, request.allowances
        edges = [
            outline(result.board, board.nut_width, board.heel_width, nut_ledge=board.nut_ledge, edge=edge)
            for edge in (0.0, allow.edge)
        ]
        return cls(
            finished=edges[0],
            rough=edges[1],
            frets=tuple((fret.bass, fret.treble) for fret in result.board.frets),
            blank_head=result.board.length - result.board.overall - allow.end,
            end=allow.end,
            radius=board.radius.heel if board.radius else None,
            thickness=board.thickness,
        )


@dataclass(frozen=True, slots=True)
class StripState:
    """What the strip shows: the blank's size, the stages behind it, whether it is held or scrapped, and its board.

    Without a board (the blank is promised to no build) only what the wood itself shows is drawn, in dashes where it
    is not known where it lies.
    """

    length: float
    width: float
    done: frozenset[str] = frozenset()
    condition: Literal["active", "held", "scrapped"] = "active"
    board: StripBoard | None = None

    @classmethod
    def of(
        cls,
        length: float,
        width: float,
        *,
        done: Collection[str] = (),
        condition: str = "active",
        request: Request | None = None,
        result: Result | None = None,
    ) -> StripState:
        """Make the state from a blank's figures and its worked-out board, if it has one."""
        board = StripBoard.of(request, result) if request and result else None
        return cls(float(length), float(width), frozenset(done), str(condition), board)


def words_for(state: StripState) -> str:
    """Say in words what the strip shows."""
    words = [word for stage, word in DONE_WORDS.items() if stage in state.done]
    said = ", ".join(words[:-2] + [" and ".join(words[-2:])]) if words else "as it came in"
    if state.condition == "active":
        return said.capitalize()
    return f"{state.condition.capitalize()}, {said}"
