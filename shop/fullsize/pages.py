"""A drawing at full size page by page: whole where it fits, in overlapping sheets where it does not, never smaller."""

from __future__ import annotations

import math
from dataclasses import dataclass

from django.utils.safestring import SafeString

from shop.drawings.svg import Drawing, Group, Point, number
from shop.fullsize.description import (
    AT_FULL_SIZE,
    CHECK,
    END_MARK,
    TEXT,
    Circle,
    FullSize,
    Layer,
    Line,
    Shape,
    check_bars,
    shortened,
    width_of,
)
from shop.fullsize.svg import draw_shapes

# Upright, mm. ISO 216: A4, A3. ANSI/ASME Y14.1: sizes A (letter) and B, in inches.
SIZES = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "letter": (8.5 * 25.4, 11 * 25.4),
    "ledger": (11 * 25.4, 17 * 25.4),
}
LARGER = {"A4": "A3", "letter": "ledger"}

MARGIN = 8.0  # mm that a printer may leave white (common practice, no source)
HEAD, FOOT, LEFT = 13.0, 15.0, 10.0  # mm: title above, level check bar below, upright one at the left
OVERLAP = 20.0  # mm
CROSS = 8.0  # mm: a register cross from end to end


@dataclass(frozen=True, slots=True)
class Page:
    """One page: its size in mm as it is printed, and what is on it."""

    width: float
    height: float
    svg: SafeString


@dataclass(frozen=True, slots=True)
class Tiling:
    """How a drawing is cut into sheets of one paper.

    Windows of ``wide`` × ``high`` mm lie ``OVERLAP`` over one another, the first at ``left`` and ``top`` of the
    drawing.
    """

    paper: Point
    wide: float
    high: float
    columns: int
    rows: int
    left: float
    top: float

    @property
    def sheets(self) -> int:
        """How many there are."""
        return self.columns * self.rows

    def window(self, column: int, row: int) -> Point:
        """Left and upper edge of what a sheet shows."""
        return self.left + column * (self.wide - OVERLAP), self.top - row * (self.high - OVERLAP)

    @property
    def seams_across(self) -> list[float]:
        """Where sheets side by side meet."""
        return [self.window(column, 0)[0] + OVERLAP / 2 for column in range(1, self.columns)]

    @property
    def seams_up(self) -> list[float]:
        """Where sheets above one another meet."""
        return [self.window(0, row)[1] - OVERLAP / 2 for row in range(1, self.rows)]


def lay_out(drawing: FullSize, paper: str, *, larger: bool = False) -> Tiling:
    """Choose the paper and how many sheets of it.

    Parameters
    ----------
    drawing : FullSize
        What is drawn.
    paper : str
        What is in the printer: a key of `SIZES`.
    larger : bool
        It takes the next larger size as well, which is used where one sheet of the usual size is too small.
    """
    usual = _best(drawing, paper)
    return _best(drawing, LARGER[paper]) if larger and usual.sheets > 1 else usual


def _best(drawing: FullSize, paper: str) -> Tiling:
    short, long = SIZES[paper]
    # Lying, unless it takes fewer sheets standing.
    return min((_tile(drawing, size) for size in ((long, short), (short, long))), key=lambda tiling: tiling.sheets)


def _tile(drawing: FullSize, paper: Point) -> Tiling:
    left, bottom, right, top = drawing.box
    wide, high = paper[0] - 2 * MARGIN - LEFT, paper[1] - 2 * MARGIN - HEAD - FOOT
    columns, rows = (
        max(1, math.ceil((size - OVERLAP) / (room - OVERLAP) - 1e-9))
        for size, room in ((right - left, wide), (top - bottom, high))
    )
    # In the middle of one sheet; over several, what is left over lies on the last.
    over_x = (wide - (right - left)) / 2 if columns == 1 else 0.0
    over_y = (high - (top - bottom)) / 2 if rows == 1 else 0.0
    return Tiling(paper, wide, high, columns, rows, left - over_x, top + over_y)


def pages(drawing: FullSize, tiling: Tiling) -> list[Page]:
    """Draw the sheets, row by row."""
    return [
        Page(*tiling.paper, _page(drawing, tiling, column, row))
        for row in range(tiling.rows)
        for column in range(tiling.columns)
    ]


def _page(drawing: FullSize, tiling: Tiling, column: int, row: int) -> SafeString:
    width, height = tiling.paper
    on = Drawing(drawing.title, drawing.about, (0.0, 0.0, width, height), width=width, medium="paper")
    left, top = tiling.window(column, row)
    window = on.add(
        "svg", x=MARGIN + LEFT, y=MARGIN + HEAD, width=tiling.wide, height=tiling.high, overflow="hidden",
        viewBox=" ".join(map(number, (left, -top, tiling.wide, tiling.high))),
    )  # fmt: skip
    with Group(on, window):
        draw_shapes(on, [*drawing.shapes, *_seams(tiling, column, row)])
    draw_shapes(on, check_bars((MARGIN + 6.0, -(height - MARGIN - END_MARK))))
    _foot(on, height)
    _head(on, drawing, tiling, column, row)
    return on.svg()


def _head(on: Drawing, drawing: FullSize, tiling: Tiling, column: int, row: int) -> None:
    right, first, second = tiling.paper[0] - MARGIN, MARGIN + 5.0, MARGIN + 10.5
    sheet = f"Sheet {1 + row * tiling.columns + column} of {tiling.sheets}"
    on.text((right, first), sheet, anchor="end", bold=True, size=1.4)
    room = right - MARGIN - width_of(sheet, 1.4) - 5.0
    on.text((MARGIN, first), shortened(drawing.title, room, 1.4), bold=True, size=1.4)
    if tiling.sheets > 1:
        on.text((MARGIN, second), _how_to_join(tiling, column, row))
        _key(on, tiling, column, row, (right, MARGIN + 6.5))


def _how_to_join(tiling: Tiling, column: int, row: int) -> str:
    number = 1 + row * tiling.columns + column
    sides = [("left", number - 1)] * (column > 0) + [("upper", number - tiling.columns)] * (row > 0)
    if not sides:
        return "Leave this sheet whole: the others are cut and laid on it, crosses on crosses."
    cut = " and ".join(side for side, _ in sides)
    under = " and ".join(f"{under}" for _, under in sides)
    s = "s" if len(sides) > 1 else ""
    return f"Cut along the {cut} dashed line{s} and lay it on sheet{s} {under}, crosses on crosses."


def _key(on: Drawing, tiling: Tiling, column: int, row: int, corner: Point) -> None:
    """Draw which of the sheets this is, small, its right upper corner at a point."""
    high = min(5.5 / tiling.rows, 5.5)
    wide = min(high * tiling.paper[0] / tiling.paper[1], 30.0 / tiling.columns)
    for r in range(tiling.rows):
        for c in range(tiling.columns):
            fill = {"fill": on.ink} if (c, r) == (column, row) else {}
            x = corner[0] - (tiling.columns - c) * wide
            on.add("rect", x=x, y=corner[1] + r * high, width=wide, height=high, **fill)


def _foot(on: Drawing, height: float) -> None:
    left = MARGIN + 6.0 + CHECK + 2 * END_MARK
    for k, words in enumerate(AT_FULL_SIZE):
        on.text((left, height - MARGIN - END_MARK - 1.5 + 1.35 * TEXT * k), words, bold=k == 0)


def _seams(tiling: Tiling, column: int, row: int) -> list[Shape]:
    """Draw where a sheet meets its neighbours: the line to cut or to lay the cut edge on, and register crosses."""
    layer, inset = Layer.SEAMS, 30.0
    left, top = tiling.window(column, row)
    right, bottom = left + tiling.wide, top - tiling.high
    shapes: list[Shape] = []
    for x in tiling.seams_across:
        if left < x < right:
            shapes.append(Line(layer, (x, bottom), (x, top)))
            shapes += [stroke for y in (bottom + inset, top - inset) for stroke in _cross(x, y)]
    for y in tiling.seams_up:
        if bottom < y < top:
            shapes.append(Line(layer, (left, y), (right, y)))
            shapes += [stroke for x in (left + inset, right - inset) for stroke in _cross(x, y)]
    return shapes


def _cross(x: float, y: float) -> list[Shape]:
    arm = CROSS / 2
    return [
        Line(Layer.CROSSES, (x - arm, y), (x + arm, y)),
        Line(Layer.CROSSES, (x, y - arm), (x, y + arm)),
        Circle(Layer.CROSSES, (x, y), arm / 2),
    ]
