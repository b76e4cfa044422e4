"""Templates of a board at full size: its outline for tapering, its frets for slotting, a gauge for its centreline."""

from __future__ import annotations

import math
from collections.abc import Collection

from geometry.outline import outline
from geometry.request import Request, TwoScales
from geometry.result import Result
from geometry.shapes import carried_across
from geometry.units import LengthStyle
from shop.fullsize.description import (
    TEXT,
    FullSize,
    Layer,
    Line,
    Shape,
    Text,
    dimension,
    lines_of_text,
    polygon,
    shortened,
    width_of,
    written,
)

GAUGE_HEIGHT = 50.0
LABEL = 16.0  # mm from the edges of the gauge to what stands on it
WORDS_AT, ROOM = 30.0, 190.0  # mm: where words on a long template begin, and how long they may be: on the first sheet
BEYOND = 6.0  # mm that a centreline is carried past the ends


def draw_taper_template(asked: Request, result: Result, what: str, file: str, style: LengthStyle) -> FullSize:
    """Draw the outline that tapering leaves, with the finished one inside it.

    Parameters
    ----------
    asked, result : Request, Result
        The board, and what geometry answered.
    what : str
        What the board is for: the number and title of the build.
    file : str
        Name of the file, without its ending.
    style : LengthStyle
        How lengths are written.
    """
    board, edge = asked.board, asked.allowances.edge
    rough, finished = (
        outline(result.board, board.nut_width, board.heel_width, nut_ledge=board.nut_ledge, edge=by)
        for by in (edge, 0.0)
    )
    length, half = result.board.length, max(y for _, y in rough)
    head = min(x for x, _ in rough)
    nut = result.board.frets[0]
    low = -half - 2.6 * TEXT
    shapes = [
        *polygon(Layer.ROUGH, rough),
        *polygon(Layer.OUTLINE, finished),
        Line(Layer.CENTRELINE, (head - BEYOND, 0.0), (length + BEYOND, 0.0)),
        Line(Layer.MARKS, *carried_across(nut, abs(rough[0][1]))),
        Text(Layer.WORDS, (WORDS_AT, 0.5 * TEXT), "centreline"),
        Text(Layer.WORDS, (length - 3.0, 0.5 * TEXT), "heel", "end"),
        Text(Layer.WORDS, (3.0, 0.5 * TEXT), "nut face"),
        Text(Layer.WORDS, (WORDS_AT, 2.4 * TEXT), shortened(f"Taper template, {what}", ROOM, 1.6), size=1.6),
        Text(Layer.WORDS, (3.0, 0.8 * TEXT - board.nut_width / 2), "bass side"),
        Text(Layer.WORDS, (3.0, board.nut_width / 2 - 1.4 * TEXT), "treble side"),
        *dimension((0.0, low), (length, low), f"nut to heel: {written(length, style)}",
                   from_start=(0.0, -board.nut_width / 2), from_end=(length, -board.heel_width / 2)),
    ]  # fmt: skip
    for x, at, width, name in (
        (head - 9.0, 0.0, board.nut_width, "nut"),
        (length + 11, length, board.heel_width, "heel"),
    ):
        shapes += dimension(
            (x, -width / 2), (x, width / 2), f"{name} {written(width, style)}",
            from_start=(at, -width / 2), from_end=(at, width / 2),
        )  # fmt: skip
    notes = [
        "Full lines: the finished board. Lay the centreline on the blank's.",
        f"Dashed lines: what tapering leaves, proud by {written(edge, style)} at each side.",
    ]
    shapes += lines_of_text(Layer.WORDS, (0.0, low - 2.0 * TEXT), notes)
    return FullSize(file, f"Taper template, {what}", notes[0], tuple(shapes))


def draw_slotting_template(asked: Request, result: Result, what: str, file: str, style: LengthStyle) -> FullSize:
    """Draw the fret lines carried across the square blank that is slotted; parameters as for the taper template."""
    board, frets = asked.board, result.board.frets
    half, length = result.blank_needed.width / 2, result.board.length
    head = length - result.board.overall - asked.allowances.end
    end = length + asked.allowances.end
    shapes: list[Shape] = [
        *polygon(Layer.OUTLINE, [(head, -half), (end, -half), (end, half), (head, half)]),
        Line(Layer.CENTRELINE, (head - BEYOND, 0.0), (end + BEYOND, 0.0)),
        *polygon(
            Layer.ROUGH, outline(result.board, board.nut_width, board.heel_width, nut_ledge=board.nut_ledge)
        ),
    ]  # fmt: skip
    low, above = -half - 1.25 * TEXT, half + 0.5 * TEXT
    for fret in frets:
        line = carried_across(fret, half)
        shapes.append(Line(Layer.FRETS, *line))
        shapes.append(Text(Layer.WORDS, (line[0][0], low), str(fret.fret) if fret.fret else "nut", "middle"))
    title = f"Slotting template, {what}"
    shapes += [
        Text(Layer.WORDS, (head, above), shortened(title, ROOM, 1.6), size=1.6),
        Text(Layer.WORDS, (end, above), "treble side", "end"),
        Text(Layer.WORDS, (end, low - 2.2 * TEXT), "bass side", "end"),
    ]
    level = low - 2.2 * TEXT
    rows = [frets[-1]] if len(frets) <= 12 else [frets[12], frets[-1]]
    fanned = isinstance(board.scale, TwoScales)
    for fret in dict.fromkeys(rows):
        words = f"nut to fret {fret.fret}{' on the centreline' if fanned else ''}: {written(fret.from_nut, style)}"
        shapes += dimension(
            (0.0, level), (fret.from_nut, level), words,
            from_start=(0.0, low - 0.3 * TEXT), from_end=(fret.from_nut, low - 0.3 * TEXT),
        )  # fmt: skip
        level -= 2.0 * TEXT
    notes = [
        _scale_words(asked, style),
        "Each line is the middle of a slot, the first one the nut face. Dashed lines: the finished board.",
    ]
    shapes += lines_of_text(Layer.WORDS, (head, level), notes)
    return FullSize(file, title, notes[0], tuple(shapes))


def _scale_words(asked: Request, style: LengthStyle) -> str:
    scale, kerf = asked.board.scale, written(asked.wire.kerf, style)
    if isinstance(scale, TwoScales):
        bass, treble = written(scale.bass, style), written(scale.treble, style)
        return f"Scale {bass} bass, {treble} treble, square at fret {scale.square_fret}. Slots {kerf} wide."
    return f"Scale {written(scale, style)}. Slots {kerf} wide."


def draw_centreline_gauge(asked: Request, result: Result, what: str, file: str, style: LengthStyle) -> FullSize:
    """Draw a gauge that shows how far the middle of a blank or board is off; parameters as for the taper template.

    A scale goes out from the centreline to both sides, the widths at the nut stand on its upper edge and those at the
    heel on its lower one.
    """
    board, edge = asked.board, asked.allowances.edge
    half = result.blank_needed.width / 2 + 8.0
    top, bottom = GAUGE_HEIGHT / 2, -GAUGE_HEIGHT / 2
    shapes: list[Shape] = [
        *polygon(Layer.OUTLINE, [(-half, bottom), (half, bottom), (half, top), (-half, top)]),
        Line(Layer.CENTRELINE, (0.0, top + BEYOND), (0.0, top - LABEL + TEXT)),
        Line(Layer.CENTRELINE, (0.0, top - LABEL - 0.5 * TEXT), (0.0, bottom + LABEL + 0.5 * TEXT)),
        Line(Layer.CENTRELINE, (0.0, bottom + LABEL - TEXT), (0.0, bottom - BEYOND)),
    ]
    for level, way, width, name in ((top, 1, board.nut_width, "nut"), (bottom, -1, board.heel_width, "heel")):
        reaches = {Layer.MARKS: width / 2, Layer.ROUGH: width / 2 + edge}
        shapes += _scale_along(level, way, half, reaches.values(), style)
        for layer, reach in reaches.items():
            shapes += [Line(layer, (side * reach, level), (side * reach, level - way * 12.5)) for side in (-1, 1)]
        words = f"{name} {written(width, style)}, rough {written(width + 2 * edge, style)}"
        shapes.append(Text(Layer.WORDS, (0.0, level - way * LABEL - 0.35 * TEXT), words, "middle"))
    title = f"Centreline gauge, {what}"
    notes = [
        shortened(title, ROOM),
        "Lay its centreline on the board's: both edges read alike if the line is in the middle.",
        "Full marks: the finished width. Dashed marks: what tapering leaves.",
    ]
    shapes += lines_of_text(Layer.WORDS, (-half, bottom - BEYOND - TEXT), notes)
    return FullSize(file, title, notes[1], tuple(shapes))


def _scale_along(level: float, way: int, half: float, clear: Collection[float], style: LengthStyle) -> list[Shape]:
    """Lay a scale out from the centreline: millimetres, or sixteenths of an inch; no figure stands on a mark."""
    step, middle, figure = (1.0, 5, 10) if style is LengthStyle.MM else (25.4 / 16, 4, 8)
    shapes: list[Shape] = []
    for k in range(-math.floor(half / step), math.floor(half / step) + 1):
        long = 6.0 if k % figure == 0 else 4.5 if k % middle == 0 else 3.0
        shapes.append(Line(Layer.SCALE, (k * step, level), (k * step, level - way * long)))
        words, reach = f"{abs(k)}" if style is LengthStyle.MM else f"{abs(k) / 16:g}", abs(k * step)
        room = width_of(words) / 2 + 0.6
        if k and k % figure == 0 and reach < half - room and all(abs(reach - mark) > room for mark in clear):
            at = level - way * 8.5 - 0.35 * TEXT
            shapes.append(Text(Layer.SCALE, (k * step, at), words, "middle"))
    return shapes
