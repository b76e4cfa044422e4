"""The board in plan, to scale: outline, frets, the blank around it, and the dimensions a maker marks out by."""

from __future__ import annotations

from collections.abc import Iterable

from django.utils.safestring import SafeString

from geometry.outline import outline
from geometry.request import Request, TwoScales
from geometry.result import FretLine, Result
from geometry.units import LengthStyle
from shop.drawings.svg import Drawing, Medium, Point
from shop.drawings.words import UNIT_NAMES, written

NUMBERED = (3, 5, 7, 9, 12, 15, 17, 19, 21, 24, 27, 29, 31, 33, 36)


def draw_plan(
    result: Result,
    request: Request,
    *,
    style: LengthStyle = LengthStyle.MM,
    width: float | None = None,
    medium: Medium = "screen",
    blank: bool = True,
    strings: bool = False,
    caption: bool = True,
) -> SafeString:
    """Draw the board from above, nut to the left, bass side towards the reader.

    Parameters
    ----------
    result, request : Result, Request
        The board, worked out, and what was asked.
    style : LengthStyle
        How lengths are written.
    width : float, optional
        Drawn width: CSS pixels (1080), on paper mm (178).
    medium : "screen" or "paper"
        Where it is drawn.
    blank : bool
        Draw the blank around the board, with its run-out and proving strip.
    strings : bool
        Draw the outer strings of a fanned board, along which its scale lengths are measured.
    caption : bool
        Say below it in which unit the figures are and that it is not true size, where no heading says so.
    """
    width = width or (1080 if medium == "screen" else 178)
    return _Plan(result, request, style, width, medium, blank, caption).draw(strings)


class _Plan:
    def __init__(
        self,
        result: Result,
        request: Request,
        style: LengthStyle,
        width: float,
        medium: Medium,
        blank: bool,
        caption: bool,
    ) -> None:
        self.caption = caption
        self.result, self.request, self.style, self.blank = result, request, style, blank
        board, allow = request.board, request.allowances
        self.corners = outline(result.board, board.nut_width, board.heel_width, nut_ledge=board.nut_ledge)
        self.length = result.board.length
        self.head = self.length - result.board.overall
        size = request.blank or result.blank_needed
        self.blank_head = self.head - allow.end
        self.blank_heel = self.blank_head + size.length
        self.half = max(y for _, y in self.corners)
        self.left, self.right = self.head, self.length
        if blank:
            self.half = max(self.half, size.width / 2)
            self.left, self.right = min(self.left, self.blank_head), max(self.right, self.blank_heel)
        # Text is of one size on the medium, so how many mm it takes here follows from the width that is left for wood.
        first = Drawing("", "", (0, 0, 1, 1), width=1, medium=medium).pens.text
        side = 3.6  # text heights at either end, for the widths
        unit = (self.right - self.left) / (width - 2 * side * first)
        self.t = t = first * unit
        top, self.rows = self.half + (2.6 if blank else 0.8) * t, self._rows()
        below = self.half + (1.7 + 1.75 * len(self.rows)) * t
        box = (
            self.left - side * t,
            -top,
            self.right - self.left + 2 * side * t,
            top + below + (1.2 * t if caption else -0.5 * t),
        )
        self.on = Drawing(self._title(), self._desc(), box, width=width, medium=medium)

    def _write(self, value: float) -> str:
        return written(value, self.style)

    def _title(self) -> str:
        fanned = "fanned " if isinstance(self.request.board.scale, TwoScales) else ""
        return f"Plan of the {fanned}board, {self.request.board.frets} frets, in {UNIT_NAMES[self.style]}"

    def _desc(self) -> str:
        board = self.request.board
        said = [
            f"nut {self._write(board.nut_width)} wide",
            f"heel {self._write(board.heel_width)}",
            *(f"{words} {self._write(end - start)}" for start, end, words in self.rows),
        ]
        return ", ".join(said)

    def _rows(self) -> list[tuple[float, float, str]]:
        """Lengths measured below the board, the shortest next to it."""
        frets = self.result.board.frets
        rows = []
        if len(frets) > 12 and not isinstance(self.request.board.scale, TwoScales):
            rows.append((0.0, frets[12].from_nut, "nut to fret 12"))
        rows.append((0.0, self.length, "nut to heel"))
        if self.head < 0:
            rows.append((self.head, self.length, "over all"))
        if self.blank:
            rows.append((self.blank_head, self.blank_heel, "blank"))
        return rows

    def draw(self, strings: bool) -> SafeString:
        if self.blank:
            self._blank()
        on = self.on
        on.outline(_turned(self.corners), pen="thick", class_="board wood", fill=on.ground)
        on.line(
            (self.left - self.t, 0), (self.right + self.t, 0), class_="centreline", **on.dashes(1.2, 0.3, 0.15, 0.3)
        )
        if strings and isinstance(self.request.board.scale, TwoScales):
            self._strings(self.request.board.scale)
        for fret in self.result.board.frets:
            on.line(*_turned((fret.bass, fret.treble)), pen="medium" if fret.fret else "thick", class_="fret")
        self._numbers(self.result.board.frets)
        self._dimensions()
        return on.svg()

    def _blank(self) -> None:
        on, half, allow = self.on, self.half, self.request.allowances
        x0, x1 = self.blank_head, self.blank_heel
        proving = self.length + allow.end
        on.outline(_turned(_box(x0, x1, half)), class_="blank", **on.dashes(0.5, 0.25))
        for start, stop in ((x0, self.head), (self.length, min(proving, x1))):
            if stop > start:
                on.hatch(_turned(_box(start, stop, half)), every=0.45 * self.t)
                on.line((start, -half), (start, half))
                on.line((stop, -half), (stop, half))
        lift, tick = -half - 1.35 * self.t, 0.95 * self.t
        self._pointed((x0 + self.head) / 2, x0, lift, tick, f"run-out {self._write(allow.end)}", "start")
        words = f"run-out {self._write(allow.end)}"
        if x1 - proving > 0:
            words += f", proving strip {self._write(x1 - proving)}"
            on.line(((proving + x1) / 2, -half), ((proving + x1) / 2, lift + 0.35 * self.t))
        self._pointed(self.length + allow.end / 2, x1, lift, tick, words, "end")

    def _pointed(self, at: float, edge: float, lift: float, tick: float, words: str, anchor: str) -> None:
        """Write words above the blank with a thin line down to what they name."""
        self.on.line((at, -self.half), (at, lift + 0.35 * self.t))
        self.on.text((edge, lift), words, anchor=anchor)

    def _strings(self, scales: TwoScales) -> None:
        board = self.request.board
        nut, last = self.result.board.frets[0], self.result.board.frets[-1]
        for side, start, end in ((-1, nut.bass, last.bass), (1, nut.treble, last.treble)):
            at_nut, at_heel = board.nut_width / 2 - scales.inset, board.heel_width / 2 - scales.inset
            line = [
                (x, side * (at_nut + (at_heel - at_nut) * x / self.length))
                for x in (start[0], max(end[0], self.length))
            ]
            self.on.line(*_turned(line), class_="string", **self.on.dashes(0.7, 0.4))

    def _numbers(self, frets: tuple[FretLine, ...]) -> None:
        low, taken = self.half + 1.05 * self.t, []
        marked = [fret for fret in frets if fret.fret in NUMBERED]
        for fret in sorted(marked, key=lambda fret: fret.fret % 12 != 0):  # octaves first, the rest where there is room
            x, y = fret.bass
            if all(abs(x - other) >= 1.35 * self.t for other in taken):
                taken.append(x)
                self.on.line((x, -y + 0.1 * self.t), (x, self.half + 0.2 * self.t), class_="leader")
                self.on.text((x, low), str(fret.fret), anchor="middle", bold=fret.fret % 12 == 0)

    def _dimensions(self) -> None:
        on, t, board = self.on, self.t, self.request.board
        level = self.half + 2.6 * t
        frets = self.result.board.frets
        for start, end, words in self.rows:
            low = self.half if words == "blank" else self.half + 1.2 * t
            on.dimension(
                (start, level), (end, level), f"{words}: {self._write(end - start)}",
                from_start=(start, low), from_end=(end, low),
            )  # fmt: skip
            level += 1.75 * t
        if self.caption:
            on.text((self.left, level - 0.1 * t), f"Figures in {UNIT_NAMES[self.style]}, not true size", class_="soft")
        nut, x = board.nut_width / 2, self.left - 1.6 * t
        on.dimension(
            (x, nut), (x, -nut), self._write(board.nut_width),
            from_start=_turn(frets[0].bass), from_end=_turn(frets[0].treble),
        )  # fmt: skip
        heel, x = board.heel_width / 2, self.right + 2.6 * t
        on.dimension(
            (x, heel), (x, -heel), self._write(board.heel_width),
            from_start=(self.length, heel), from_end=(self.length, -heel),
        )  # fmt: skip


def _turn(at: Point) -> Point:
    return at[0], -at[1]


def _turned(corners: Iterable[Point]) -> list[Point]:
    """Turn y over: on the drawing it grows downwards."""
    return [_turn(corner) for corner in corners]


def _box(x0: float, x1: float, half: float) -> list[Point]:
    return [(x0, -half), (x0, half), (x1, half), (x1, -half)]
