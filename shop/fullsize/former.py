"""A former at full size: arc, apex, centreline, seat on the bed, pass marks and screw holes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from geometry.result import PassFigures, Point
from geometry.shapes import FormerShape
from geometry.units import LengthStyle
from shop.fullsize.description import (
    TEXT,
    Arc,
    Circle,
    FullSize,
    Layer,
    Line,
    Shape,
    Text,
    dimension,
    lines_of_text,
    polygon,
    width_of,
    written,
)

SEAT = "This edge on the bed"
TICK = 8.0  # mm: how long a pass mark is
ROW = 1.45 * TEXT


@dataclass(frozen=True, slots=True)
class Holes:
    """Two screw holes, mm: between their middles, their diameter, and how high above the bed."""

    spacing: float
    diameter: float
    height: float


@dataclass(frozen=True, slots=True)
class Plate:
    """What a former is besides its shape: the words on it, its pass marks and its holes."""

    file: str
    title: str
    words: tuple[str, ...]
    passes: PassFigures | None = None
    holes: Holes | None = None
    cautions: tuple[str, ...] = ()


def draw_former(shape: FormerShape, plate: Plate, style: LengthStyle) -> FullSize:
    """Draw a former, seen from the heel end of the jig: bass side to the left.

    Parameters
    ----------
    shape : FormerShape
        Its arc and its size.
    plate : Plate
        What else is on it. The first of the words is written large.
    style : LengthStyle
        How lengths are written.
    """
    words, room, below = _words(shape, plate)
    shapes = [*_outline(shape), *_centreline(shape, plate, room)]
    if plate.passes:
        shapes += _pass_marks(shape, plate.passes)
    if plate.holes:
        shapes += _holes(plate.holes)
    shapes += [*_dimensions(shape, style), *words, *_below(shape, plate, style, below)]
    return FullSize(plate.file, plate.title, _radius_words(shape, style), tuple(shapes))


def _outline(shape: FormerShape) -> list[Shape]:
    half, shoulder = shape.half_width, shape.shoulder
    left, right = (-half, shoulder), (half, shoulder)
    if math.isinf(shape.radius):
        return polygon(Layer.OUTLINE, [(-half, 0.0), (half, 0.0), right, left])
    end = math.degrees(shape.end_angle)
    arc = Arc(Layer.OUTLINE, shape.centre, shape.radius, 90 - end, 90 + end)
    # The sides begin at the very ends of the arc as it is written, so that a machine finds the outline closed.
    right, left = arc.at(arc.start), arc.at(arc.end)
    sides = [Line(Layer.OUTLINE, left, (left[0], 0.0)), Line(Layer.OUTLINE, (right[0], 0.0), right)]
    seat = Line(Layer.OUTLINE, (left[0], 0.0), (right[0], 0.0))
    return [arc, sides[0], seat, sides[1]] if shoulder > 1e-6 else [arc, seat]


def _centreline(shape: FormerShape, plate: Plate, words: tuple[float, float] | None) -> list[Shape]:
    """Draw the centreline, broken where words or the number of the middle pass stand on it."""
    gaps = [words] if words else []
    if plate.passes:
        gaps.insert(0, (shape.apex - TICK, shape.apex - TICK - 1.3 * TEXT))
    ends = [shape.apex + 5.0, *(level for gap in gaps for level in gap), -2.0]
    return [
        Line(Layer.CENTRELINE, (0.0, ends[k]), (0.0, ends[k + 1]))
        for k in range(0, len(ends), 2)
        if ends[k] > ends[k + 1]
    ]


def _pass_marks(shape: FormerShape, passes: PassFigures) -> list[Shape]:
    """Mark the passes square to the arc, numbered from the apex; where they stand close, only some carry numbers."""
    marks = [(one.number, *_mark(shape, one.angle_deg, one.head_square)) for one in passes.list]
    marks = [mark for mark in marks if abs(mark[1][0]) <= shape.half_width]
    room = width_of(f"{-marks[0][0]}0") if marks else 0.0
    apart = abs(marks[1][1][0] - marks[0][1][0]) if len(marks) > 1 else math.inf
    every = max(1, math.ceil(room / apart))
    shapes: list[Shape] = []
    for name, start, end, turn in marks:
        shapes.append(Line(Layer.PASSES, start, end))
        if name % every == 0:
            out = end[0] - start[0], end[1] - start[1]
            below = (TICK + TEXT) / TICK
            at = start[0] + out[0] * below, start[1] + out[1] * below
            shapes.append(Text(Layer.PASSES, at, str(name), "middle", turn=turn))
    return shapes


def _mark(shape: FormerShape, degrees: float, stroke: float | None) -> tuple[Point, Point, float]:
    if math.isinf(shape.radius):  # a flat board is cut in strokes side by side, and every angle is 0
        return (stroke or 0.0, shape.apex), (stroke or 0.0, shape.apex - TICK), 0.0
    angle = math.radians(degrees)
    return shape.on_arc(angle), shape.on_arc(angle, TICK), -degrees


def _holes(holes: Holes) -> Iterable[Shape]:
    for side in (-1, 1):
        x, y = side * holes.spacing / 2, holes.height
        arm = holes.diameter / 2 + 2.0
        yield Circle(Layer.HOLES, (x, y), holes.diameter / 2)
        yield Line(Layer.CENTRELINE, (x - arm, y), (x + arm, y))
        yield Line(Layer.CENTRELINE, (x, y - arm), (x, y + arm))


def holes_trouble(shape: FormerShape, holes: Holes, style: LengthStyle) -> str:
    """Say what is wrong with holes that would not lie inside a former; nothing if they do."""
    edge, top = (holes.spacing + holes.diameter) / 2, holes.height + holes.diameter / 2
    if edge >= shape.half_width:
        over = written(edge - shape.half_width, style)
        return f"The screw holes would come out at the sides, {over} beyond them. Set them closer, or the margin wider."
    over_hole = shape.shoulder if math.isinf(shape.radius) else shape.apex - shape.rise(2 * edge)
    if top >= over_hole:
        over = written(top - over_hole, style)
        return f"The screw holes would come out at the arc, {over} above it. Set them lower."
    if holes.height <= holes.diameter / 2:
        return "The screw holes would come out at the edge on the bed. Set them higher."
    return ""


def _dimensions(shape: FormerShape, style: LengthStyle) -> list[Shape]:
    half, apex = shape.half_width, shape.apex
    far = half + 11.0
    shapes = dimension(
        (far, 0.0), (far, apex), f"apex {written(apex, style)}", from_start=(half, 0.0), from_end=(0.0, apex)
    )
    if 1.0 < shape.shoulder < apex:
        near = -half - 6.0
        shapes += dimension(
            (near, 0.0), (near, shape.shoulder), f"side {written(shape.shoulder, style)}",
            from_start=(-half, 0.0), from_end=(-half, shape.shoulder),
        )  # fmt: skip
    level = -1.35 * TEXT - 2.4 * ROW
    shapes += dimension(
        (0.0, level), (half, level), f"half-width {written(half, style)}",
        from_start=(0.0, -1.35 * TEXT - ROW), from_end=(half, 0.0),
    )  # fmt: skip
    return shapes


def _radius_words(shape: FormerShape, style: LengthStyle) -> str:
    if math.isinf(shape.radius):
        return "Straight edge, for a flat board."
    chord = 100.0 if style is LengthStyle.MM else 101.6
    words = f"Arc radius {written(shape.radius, style)}."
    if chord / 2 < shape.half_width:
        words += f" Over a chord of {written(chord, style)} the arc rises {written(shape.rise(chord), style)}."
    return words


def _words(shape: FormerShape, plate: Plate) -> tuple[list[Shape], tuple[float, float] | None, Sequence[str]]:
    """Write the words on the former and say from where to where, if they find room below the arc and above the holes.

    Otherwise they are given back.
    """
    size = 1.9
    wide = max(width_of(plate.words[0], size), *map(width_of, plate.words[1:]), 0.0)
    high = size * TEXT + ROW * (len(plate.words) - 1)
    if wide > 2 * shape.half_width - 2 * TEXT:
        return [], None, plate.words
    floor = plate.holes.height + plate.holes.diameter / 2 + 2.5 if plate.holes else 2.0
    ceiling = shape.apex - shape.rise(wide) - (TICK + 2 * TEXT if plate.passes else 3.0)
    if high > ceiling - floor:
        return [], None, plate.words
    top = (ceiling + floor + high) / 2
    first = Text(Layer.WORDS, (0.0, top - 0.75 * size * TEXT), plate.words[0], "middle", size)
    under = (0.0, top - 0.75 * size * TEXT - ROW)
    rest = lines_of_text(Layer.WORDS, under, plate.words[1:], "middle")
    return [first, *rest], (top + 1.0, top - high - 1.0), ()


def _below(shape: FormerShape, plate: Plate, style: LengthStyle, words: Sequence[str]) -> list[Shape]:
    """Write what stands under the seat."""
    half, level = shape.half_width, -1.35 * TEXT
    shapes: list[Shape] = [Text(Layer.WORDS, (0.0, level), SEAT, "middle")]
    sides = level if 2 * half > width_of(SEAT + "Bass side" + "Treble side  ") else level - ROW
    if plate.passes:
        shapes += [
            Text(Layer.WORDS, (-half, sides), "Bass side"),
            Text(Layer.WORDS, (half, sides), "Treble side", "end"),
        ]
    notes = [*words, _radius_words(shape, style)]
    if plate.passes:
        notes.append("Seen from the heel end of the jig. Marks are numbered from the apex.")
    if plate.holes:
        wide, apart, high = (written(v, style) for v in (plate.holes.diameter, plate.holes.spacing, plate.holes.height))
        notes.append(f"Screw holes {wide} wide, {apart} apart, {high} above the bed.")
    trouble = holes_trouble(shape, plate.holes, style) if plate.holes else ""
    notes += [f"Caution: {words}" for words in (*plate.cautions, trouble) if words]
    return shapes + lines_of_text(Layer.WORDS, (-half, level - 3.9 * ROW), notes)
