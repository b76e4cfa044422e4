"""How the strip is drawn."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from django.utils.safestring import SafeString

from boards.strip.state import Corners, Line, StripState, words_for
from geometry.request import Allowances
from geometry.surface import sagitta
from shop.drawings.svg import Drawing, Medium, Point, number

Size = Literal["row", "page", "sheet", "label"]

END_HEIGHTS = 3.0  # the end view's heights against its widths: at true height the curve would not show
NECK_HEAD, NECK_HEEL, NECK_FLARE = 62.0, 42.0, 9.0  # how much of a neck is drawn past its board, mm
UNKNOWN_SLOTS = 9


@dataclass(frozen=True, slots=True)
class _Frame:
    """Room that a strip takes: in CSS pixels, on a sheet or label in mm; so many of these to the mm of wood."""

    width: float
    height: float
    scale: float
    end_view: float


# In a list every blank is drawn to the same scale, so a bass blank is longer; one that is too long is drawn smaller.
_FRAMES: dict[Size, _Frame] = {
    "row": _Frame(width=264, height=42, scale=0.36, end_view=46),
    "page": _Frame(width=760, height=120, scale=1.04, end_view=112),
    "sheet": _Frame(width=98, height=17, scale=0.135, end_view=17),
    "label": _Frame(width=54, height=9.5, scale=0.078, end_view=9),
}


def draw_strip(state: StripState, *, size: Size = "row", medium: Medium = "screen", name: str = "") -> SafeString:
    """Draw the strip.

    Parameters
    ----------
    state : StripState
        What to show.
    size : "row", "page", "sheet" or "label"
        Where it stands: a list, the head of a page, a sheet of paper, a label.
    medium : "screen" or "paper"
        On paper it is black on white and measured in mm.
    name : str
        Whose strip it is, for a screen reader: "Blank 117".
    """
    return _Strip(state, _FRAMES[size], medium, name).draw()


class _Strip:
    """One strip being drawn. x is the board's, y is turned so that the bass side lies towards the reader."""

    def __init__(self, state: StripState, frame: _Frame, medium: Medium, name: str) -> None:
        self.state, self.board = state, state.board
        self.start = state.board.blank_head if state.board else 0.0
        self.stop = self.start + state.length
        self.glued, self.tapered = "gluing" in state.done, "tapering" in state.done
        self.body = self._body()
        before = NECK_HEAD if self.glued else 0.0
        after = NECK_HEEL if self.glued else 0.0
        left = min(self.start, self.body[0][0] - before, self.body[1][0] - before)
        right = max(self.stop, self.body[2][0] + after)
        widest = max(state.width, self.body[2][1] - self.body[3][1])
        room = frame.width - frame.end_view
        pixel = frame.height / _FRAMES["row"].height  # what is a pixel in a list's row
        pad = 2 * pixel  # so that no line is cut in half at the edge
        self.scale = min(frame.scale, (room - 2 * pad) / (right - left), 0.66 * frame.height / widest)
        high = frame.height / self.scale
        box = (left - pad / self.scale, -high / 2, frame.width / self.scale, high)
        words = words_for(state)
        self.on = Drawing(
            f"{name}: {words.lower()}" if name else words,
            f"Blank {number(state.length)} by {number(state.width)} mm, drawn to scale",
            box,
            width=frame.width,
            medium=medium,
        )
        self.on.root.set("class", "strip")
        self.end_at = box[0] + box[2] - frame.end_view / self.scale / 2
        self.end_room = 0.86 * frame.end_view / self.scale
        self.px = pixel / self.scale

    def _body(self) -> Corners:
        """Corners of the wood as it is now."""
        if self.board and (self.tapered or self.glued):
            return self.board.finished if self.glued else self.board.rough
        half = self.state.width / 2
        if self.tapered or self.glued:  # tapered, but nobody wrote down to what
            return (self.start, -0.36 * half), (self.start, 0.36 * half), (self.stop, half / 2), (self.stop, -half / 2)
        return (self.start, -half), (self.start, half), (self.stop, half), (self.stop, -half)

    def draw(self) -> SafeString:
        if self.state.condition == "scrapped":
            self._broken()
        else:
            self._piece(list(self.body), self.start - self.state.length, self.stop + self.state.length)
        if "radiusing" in self.state.done:
            self._end_view()
        if self.state.condition == "held":
            self._tie()
        return self.on.svg()

    def _edge(self, side: int, x: float) -> float:
        """Where the bass (-1) or treble (1) edge of the wood lies at ``x``."""
        head_bass, head_treble, heel_treble, heel_bass = self.body
        (x1, y1), (x2, y2) = (head_treble, heel_treble) if side > 0 else (head_bass, heel_bass)
        return y1 + (y2 - y1) * (x - x1) / (x2 - x1)

    def _across(self, line: Line) -> Line:
        """Carry a fret line on to the edges of the wood as it is now, as a saw does."""
        (xb, yb), (xt, yt) = line
        lean = (xt - xb) / (yt - yb)
        ends = []
        for side in (-1, 1):
            at_centre = xb - lean * yb
            edge, slope = self._edge(side, at_centre), self._edge(side, at_centre + 1) - self._edge(side, at_centre)
            y = edge / (1 - slope * lean)
            ends.append((at_centre + lean * y, y))
        return ends[0], ends[1]

    def _piece(self, corners: list[Point], start: float, stop: float) -> None:
        """Draw what lies between two places along the blank: all of it, or one half of a broken one."""
        on = self.on
        if self.glued:
            self._neck(start, stop)
        known = self.board is not None or not (self.tapered or self.glued)
        dashes = {} if known else on.dashes(0.25, 0.2)
        on.outline(_turned(corners), class_="ground", fill=on.ground, **dashes)
        if "thicknessing" in self.state.done and not (self.tapered or self.glued):
            self._ends(start, stop)
        if "slotting" in self.state.done:
            self._slots(start, stop)

    def _slots(self, start: float, stop: float) -> None:
        if self.board:
            lines, dashes = self.board.frets[1:], {}
        else:
            step = (self.stop - self.start) / (UNKNOWN_SLOTS + 1)
            xs = [self.start + step * (k + 1) for k in range(UNKNOWN_SLOTS)]
            lines, dashes = [((x, -1.0), (x, 1.0)) for x in xs], self.on.dashes(0.2, 0.2)
        sawn = [
            ((xb, -yb), (xt, -yt))
            for (xb, yb), (xt, yt) in map(self._across, lines)
            if start <= min(xb, xt) and max(xb, xt) <= stop
        ]
        self.on.lines(sawn, class_="slot", **dashes)

    def _ends(self, start: float, stop: float) -> None:
        """Hatch what will be cut off: run-out at both ends, and the proving strip beyond the heel."""
        usual, half = Allowances(), self.state.width / 2
        if self.board:
            head, heel = self.board.blank_head + self.board.end, self.board.finished[2][0]
            proving = heel + self.board.end
        else:
            head, proving = self.start + usual.end, self.stop - usual.proving
            heel = proving - usual.end
        for left, right in ((self.start, head), (heel, self.stop)):
            if start <= left < right <= stop:
                corners = [(left, -half), (left, half), (right, half), (right, -half)]
                self.on.hatch(_turned(corners), every=3.6 * self.px)
                inner = right if left == self.start else left
                self.on.line(*_turned(((inner, -half), (inner, half))))
        if start <= heel < proving < self.stop <= stop:
            self.on.line(*_turned(((proving, -half), (proving, half))), pen="medium", class_="proving")

    def _neck(self, start: float, stop: float) -> None:
        """Draw the neck under the board, dark: its head flares, its heel runs on."""
        (xb, yb), (xt, yt), (heel, wide), _ = self.body
        flare = wide - yt + NECK_FLARE
        head = [(xb, yb), (xb - NECK_HEAD, yb - flare), (xt - NECK_HEAD, yt + flare), (xt, yt)]
        tail = [(heel, wide), (heel + NECK_HEEL, wide), (heel + NECK_HEEL, -wide), (heel, -wide)]
        for part, here in ((head, start < xb), (tail, stop > heel)):
            if here and self.on.medium == "paper":  # a copier makes grey and solid black alike; lines survive
                self.on.outline(_turned(part), class_="neck")
                for angle in (45.0, -45.0):
                    self.on.hatch(_turned(part), every=2.2 * self.px, angle=angle)
            elif here:
                self.on.outline(_turned(part), class_="neck", fill=self.on.ink)

    def _broken(self) -> None:
        """Draw both halves, torn along the same line, the second fallen off its level."""
        at = self.start + 0.46 * (self.stop - self.start)
        tear = 3.0 * self.px
        top, bottom = self._edge(1, at), self._edge(-1, at)
        shifts = (0.0, 1.0, -0.8, 1.2, -1.0, 0.6, 0.0)
        torn = [(at + tear * s, top + (bottom - top) * k / 6) for k, s in enumerate(shifts)]
        head_bass, head_treble, heel_treble, heel_bass = self.body
        far = self.state.length
        self._piece([head_bass, head_treble, *torn], self.start - far, at - 1.3 * tear)
        drop = math.degrees(math.atan(4.2 * self.px / (self.stop - at)))
        turn = f"translate({number(3.4 * self.px)} {number(1.8 * self.px)}) rotate({number(drop)} {number(at)} 0)"
        with self.on.group(transform=turn, class_="fallen"):
            self._piece([*torn[::-1], heel_treble, heel_bass][::-1], at + 1.3 * tear, self.stop + far)

    def _end_view(self) -> None:
        """Draw the heel end, its curve and its thickness higher than true so that they show."""
        board, width = self.board, self.body[2][1] - self.body[3][1]
        k = min(1.45, self.end_room / width)
        radius, thick = (board.radius, board.thickness) if board else (254.0, 6.35)
        known = board is not None
        drop = float(sagitta(radius, width)) if radius else 0.0
        half, base = k * width / 2, k * thick * END_HEIGHTS / 2
        edge = base - k * (thick - drop) * END_HEIGHTS
        curve = f"A{number(k * radius)} {number(k * radius * END_HEIGHTS)} 0 0 1 " if radius else "L"
        x = self.end_at
        d = f"M{number(x - half)} {number(base)}V{number(edge)}{curve}{number(x + half)} {number(edge)}V{number(base)}Z"
        dashes = {} if known else self.on.dashes(0.25, 0.2)
        self.on.path(d, pen="medium", class_="end-view ground", fill=self.on.ground, **dashes)

    def _tie(self) -> None:
        """Draw a tie drawn tight round the blank: a strap, its head on the upper edge, its loose end."""
        on, px = self.on, self.px
        at = self.start + 0.5 * (self.stop - self.start)
        over, half = self._edge(1, at) + 1.8 * px, 4.2 * px
        strap = _box(at, half, over)
        # A border in the ground's colour keeps the strap apart from frets beside it.
        on.outline(_turned(strap), class_="ground", fill=on.ground, stroke="none")
        on.outline(_turned(_box(at, half - 1.5 * px, over)), class_="tie", fill=on.ink, stroke="none")
        head = [(at - 5 * px, over + 3.6 * px), (at + 5 * px, over + 3.6 * px), (at + 5 * px, over - 3.4 * px)]
        end = [(at + 5 * px, over + 1.5 * px), (at + 13 * px, over + 4 * px), (at + 21 * px, over + 2.5 * px)]
        on.outline(_turned(end), pen="medium", closed=False, class_="tie")
        on.outline(_turned([*head, (at - 5 * px, over - 3.4 * px)]), class_="tie ground", fill=on.ground)


def _box(at: float, half: float, over: float) -> list[Point]:
    return [(at - half, over), (at + half, over), (at + half, -over), (at - half, -over)]


def _turned(corners: Collection[Point]) -> list[Point]:
    """Turn y over: on the drawing it grows downwards."""
    return [(x, -y) for x, y in corners]
