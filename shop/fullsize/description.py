"""A drawing at full size as a list of lines, arcs, circles and words, on layers that say what each is for.

Millimetres, y upwards. All that draws or writes one goes by this list alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from typing import Literal

from geometry.units import LengthStyle, format_length
from shop.drawings.svg import PENS, Drawing

Point = tuple[float, float]
Box = tuple[float, float, float, float]  # left, bottom, right, top
Anchor = Literal["start", "middle", "end"]

TEXT = PENS["paper"].text
CHECK = 100.0  # mm between the end marks of a check bar
ARROW = 2.6
END_MARK = 5.0
FIGURE_AT = 75.0  # mm from the start of a dimension to the middle of its figure, at most
AT_FULL_SIZE = ("Full size: print at 100 %, not fitted to the page.", "Both bars must measure 100 mm.")


class Layer(Enum):
    """What a line is for; the value is its name in files."""

    OUTLINE = "Outline"
    ROUGH = "Rough outline"
    CENTRELINE = "Centreline"
    FRETS = "Frets"
    PASSES = "Pass marks"
    MARKS = "Marks"
    SCALE = "Scale"
    HOLES = "Screw holes"
    DIMENSIONS = "Dimensions"
    WORDS = "Words"
    CHECK = "Check bars"
    SEAMS = "Seams"  # where sheets meet; these two are on paper only
    CROSSES = "Register crosses"


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line."""

    layer: Layer
    start: Point
    end: Point


@dataclass(frozen=True, slots=True)
class Arc:
    """An arc, counter-clockwise from one angle to another, in degrees from the right."""

    layer: Layer
    centre: Point
    radius: float
    start: float
    end: float

    def at(self, degrees: float) -> Point:
        """Find a point of it."""
        angle = math.radians(degrees)
        return self.centre[0] + self.radius * math.cos(angle), self.centre[1] + self.radius * math.sin(angle)


@dataclass(frozen=True, slots=True)
class Circle:
    """A whole circle."""

    layer: Layer
    centre: Point
    radius: float


@dataclass(frozen=True, slots=True)
class Text:
    """Words with their baseline at a point; ``size`` multiplies the usual height, ``turn`` is counter-clockwise."""

    layer: Layer
    at: Point
    words: str
    anchor: Anchor = "start"
    size: float = 1.0
    turn: float = 0.0

    @property
    def width(self) -> float:
        """How much room it takes along its line, or a little more."""
        return width_of(self.words, self.size)


Shape = Line | Arc | Circle | Text

_RULER = Drawing("", "", (0, 0, 1, 1), width=1, medium="paper")


def width_of(words: str, size: float = 1.0) -> float:
    """How wide words are, or a little more, mm."""
    return _RULER.text_width(words, size) + sum(0.5 * TEXT * size for letter in words if ord(letter) > 0x2E7F)


def written(value: float, style: LengthStyle) -> str:
    """Write a length as it is sawn to: to a hundredth of a millimetre, however long it is."""
    return format_length(value, style, 2 if style is LengthStyle.MM else None)


def shortened(words: str, room: float, size: float = 1.0) -> str:
    """Cut words off where there is no room for all of them."""
    if width_of(words, size) <= room:
        return words
    while words and width_of(f"{words}…", size) > room:
        words = words[:-1]
    return f"{words.rstrip()}…"


@dataclass(frozen=True, slots=True)
class FullSize:
    """A drawing at full size.

    Attributes
    ----------
    name : str
        Of the file, without its ending.
    title, about : str
        What it is, and a sentence more.
    shapes : tuple of Shape
        What is drawn, without check bars: where these go depends on what it is drawn on.
    """

    name: str
    title: str
    about: str
    shapes: tuple[Shape, ...]

    @property
    def box(self) -> Box:
        """The room that it takes."""
        return bounds(self.shapes)

    def with_check_bars(self) -> FullSize:
        """Add both check bars, and what they are for, below the drawing."""
        left, bottom, _, _ = self.box
        start = (left + END_MARK, bottom - CHECK - 3 * TEXT)
        words = lines_of_text(Layer.CHECK, (start[0] + 2 * TEXT, start[1] + 4 * TEXT), AT_FULL_SIZE)
        return FullSize(self.name, self.title, self.about, (*self.shapes, *check_bars(start), *words))


def bounds(shapes: Iterable[Shape]) -> Box:
    """Find the room that shapes take."""
    points = [point for shape in shapes for point in _corners(shape)]
    across, up = [x for x, _ in points], [y for _, y in points]
    return min(across), min(up), max(across), max(up)


def _corners(shape: Shape) -> list[Point]:
    match shape:
        case Line(_, start, end):
            return [start, end]
        case Circle(_, (x, y), radius):
            return [(x - radius, y - radius), (x + radius, y + radius)]
        case Arc(_, _, _, start, end):
            first = math.ceil(start / 90)
            quarters = [quarter * 90.0 for quarter in range(first, math.floor(end / 90) + 1)]
            return [shape.at(degrees) for degrees in (start, *quarters, end)]
        case Text(_, (x, y), _, anchor, size, turn):
            left = -shape.width * {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor]
            cos, sin = math.cos(math.radians(turn)), math.sin(math.radians(turn))
            room = [(u, v) for u in (left, left + shape.width) for v in (-0.25 * TEXT * size, 0.75 * TEXT * size)]
            return [(x + u * cos - v * sin, y + u * sin + v * cos) for u, v in room]
    raise TypeError(shape)


def polygon(layer: Layer, corners: Iterable[Point]) -> list[Shape]:
    """Draw a closed outline."""
    corners = list(corners)
    return [Line(layer, a, b) for a, b in zip(corners, [*corners[1:], corners[0]], strict=True) if a != b]


def lines_of_text(layer: Layer, at: Point, lines: Iterable[str], anchor: Anchor = "start") -> list[Shape]:
    """Write lines of words below one another."""
    return [Text(layer, (at[0], at[1] - 1.45 * TEXT * k), words, anchor) for k, words in enumerate(lines)]


def check_bars(start: Point) -> list[Shape]:
    """Draw the two bars that show whether a drawing is at full size, from a common corner."""
    x, y = start
    half, lift = END_MARK / 2, 0.4 * TEXT
    return [
        Line(Layer.CHECK, (x, y), (x + CHECK, y)),
        Line(Layer.CHECK, (x, y - half), (x, y + half)),
        Line(Layer.CHECK, (x + CHECK, y - half), (x + CHECK, y + half)),
        Line(Layer.CHECK, (x, y), (x, y + CHECK)),
        Line(Layer.CHECK, (x - half, y), (x + half, y)),
        Line(Layer.CHECK, (x - half, y + CHECK), (x + half, y + CHECK)),
        Text(Layer.CHECK, (x + CHECK / 2, y + lift), "100 mm", "middle"),
        Text(Layer.CHECK, (x - lift, y + CHECK / 2), "100 mm", "middle", turn=90),
    ]


def dimension(start: Point, end: Point, words: str, *, from_start: Point, from_end: Point) -> list[Shape]:
    """Draw a level or an upright dimension; thin lines lead from what is measured.

    Its figure stands beside the middle, on a long one near the start: where sheets meet it would be cut in two.
    """
    layer, shapes = Layer.DIMENSIONS, [Line(Layer.DIMENSIONS, start, end)]
    length = math.dist(start, end)
    along = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    for tip, way in ((start, 1), (end, -1)):
        for side in (-1, 1):
            back = (tip[0] + way * along[0] * ARROW - side * along[1] * ARROW * 0.2,
                    tip[1] + way * along[1] * ARROW + side * along[0] * ARROW * 0.2)  # fmt: skip
            shapes.append(Line(layer, tip, back))
    for origin, stop in ((from_start, start), (from_end, end)):
        away = math.dist(origin, stop)
        if away > 2.0:
            out = (stop[0] - origin[0]) / away, (stop[1] - origin[1]) / away
            first = origin[0] + out[0] * 1.0, origin[1] + out[1] * 1.0
            shapes.append(Line(layer, first, (stop[0] + out[0] * 1.2, stop[1] + out[1] * 1.2)))
    upright = abs(along[1]) > abs(along[0])
    middle = min(length / 2, FIGURE_AT)
    x, y = start[0] + along[0] * middle, start[1] + along[1] * middle
    lift = 0.35 * TEXT
    at = (x - lift, y) if upright else (x, y + lift)
    shapes.append(Text(layer, at, words, "middle", turn=90.0 if upright else 0.0))
    return shapes
