"""A drawing at full size as SVG: one millimetre of it is one millimetre."""

from __future__ import annotations

from collections.abc import Iterable

from shop.drawings.svg import Drawing, number
from shop.fullsize.description import Arc, Circle, FullSize, Layer, Line, Shape, Text

MARGIN = 3.0
PENS = {Layer.OUTLINE: "medium", Layer.FRETS: "medium"}
DASHES = {Layer.CENTRELINE: "8 1.5 1 1.5", Layer.ROUGH: "4 1.5", Layer.SEAMS: "2 2"}


def write_svg(drawing: FullSize) -> bytes:
    """Write the file."""
    drawing = drawing.with_check_bars()
    left, bottom, right, top = drawing.box
    wide, high = right - left + 2 * MARGIN, top - bottom + 2 * MARGIN
    on = Drawing(drawing.title, drawing.about, (left - MARGIN, -top - MARGIN, wide, high), width=wide, medium="paper")
    draw_shapes(on, drawing.shapes)
    return b'<?xml version="1.0" encoding="UTF-8"?>\n' + on.svg().encode()


def draw_shapes(on: Drawing, shapes: Iterable[Shape]) -> None:
    """Draw shapes, each layer in a group of its own; y is turned over, as it grows downwards here."""
    by_layer: dict[Layer, list[Shape]] = {}
    for shape in shapes:
        by_layer.setdefault(shape.layer, []).append(shape)
    for layer, its in by_layer.items():
        dashes = {"stroke_dasharray": DASHES[layer]} if layer in DASHES else {}
        with on.group(id=layer.value.lower().replace(" ", "-"), **dashes):
            on.add("title").text = layer.value
            for shape in its:
                _draw(on, shape, PENS.get(layer, "thin"))


def _draw(on: Drawing, shape: Shape, pen: str) -> None:
    match shape:
        case Line(_, start, end):
            on.line(_turned(start), _turned(end), pen=pen)
        case Arc(_, _, radius, first, last):
            (x0, y0), (x1, y1) = _turned(shape.at(last)), _turned(shape.at(first))
            long, r = int(last - first > 180), number(radius)
            on.path(f"M{number(x0)} {number(y0)}A{r} {r} 0 {long} 1 {number(x1)} {number(y1)}", pen=pen)
        case Circle(_, centre, radius):
            x, y = _turned(centre)
            width = {} if pen == "thin" else {"stroke_width": getattr(on.pens, pen)}
            on.add("circle", cx=x, cy=y, r=radius, **width)
        case Text(_, at, words, anchor, size, turn):
            on.text(_turned(at), words, anchor=anchor, size=size, turn=-turn)


def _turned(at: tuple[float, float]) -> tuple[float, float]:
    return at[0], -at[1]
