"""A drawing at full size as DXF: millimetres, arcs as arcs, a layer for each purpose."""

from __future__ import annotations

import io
import re

import ezdxf
from ezdxf import units
from ezdxf.enums import TextEntityAlignment

from shop.drawings.svg import printable
from shop.fullsize.description import TEXT, Arc, Circle, FullSize, Layer, Line, Shape
from shop.fullsize.description import Text as Words

VERSION = "R2000"  # the oldest that names its unit, so that the most machines read it
CAPITALS = 0.66  # height of a capital over that of the type, in Source Sans: DXF measures text by its capitals
COLOURS = {
    Layer.OUTLINE: 7,
    Layer.ROUGH: 4,
    Layer.CENTRELINE: 1,
    Layer.FRETS: 5,
    Layer.PASSES: 5,
    Layer.MARKS: 5,
    Layer.SCALE: 8,
    Layer.HOLES: 7,
    Layer.DIMENSIONS: 8,
    Layer.WORDS: 8,
    Layer.CHECK: 3,
}
_ALIGN = {
    "start": TextEntityAlignment.LEFT,
    "middle": TextEntityAlignment.CENTER,
    "end": TextEntityAlignment.RIGHT,
}


def write_dxf(drawing: FullSize) -> bytes:
    """Write the file."""
    drawing = drawing.with_check_bars()
    # Without the hour in it and with fixed ids, the same drawing gives the same file.
    ezdxf.options.write_fixed_meta_data_for_testing = True
    document = ezdxf.new(VERSION, units=units.MM)
    document.header["$INSUNITS"] = units.MM
    document.header["$MEASUREMENT"] = 1
    for layer in dict.fromkeys(shape.layer for shape in drawing.shapes):
        document.layers.add(layer.value, color=COLOURS[layer])
    space = document.modelspace()
    for shape in drawing.shapes:
        _add(space, shape)
    left, bottom, right, top = drawing.box
    document.header["$EXTMIN"], document.header["$EXTMAX"] = (left, bottom, 0), (right, top, 0)
    document.set_modelspace_vport(height=1.05 * (top - bottom), center=((left + right) / 2, (bottom + top) / 2))
    stream = io.StringIO(newline="")
    document.write(stream)
    return document.encode(stream.getvalue())


def _add(space: ezdxf.layouts.Modelspace, shape: Shape) -> None:
    on = {"layer": shape.layer.value}
    match shape:
        case Line(_, start, end):
            space.add_line(start, end, on)
        case Arc(_, centre, radius, first, last):
            space.add_arc(centre, radius, first, last, dxfattribs=on)
        case Circle(_, centre, radius):
            space.add_circle(centre, radius, on)
        case Words(_, at, words, anchor, size, turn):
            text = space.add_text(as_text(words), height=CAPITALS * TEXT * size, rotation=turn, dxfattribs=on)
            text.set_placement(at, align=_ALIGN[anchor])


def as_text(words: str) -> str:
    """Write words so that a TEXT means just them: %%, ^ and a backslash begin codes, unless a space follows.

    Letters beyond the basic plane have no code in this version; the minus sign has one, but many line fonts lack it.
    """
    plain = printable(" ".join(words.replace("\u2212", "-").split()))
    words = "".join(letter if ord(letter) < 0x10000 else "?" for letter in plain)
    return re.sub(r"(%(?=%)|\\(?=\S)|\^(?=\S))", r"\1 ", words)
