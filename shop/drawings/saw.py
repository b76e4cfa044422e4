"""How the slotting saw stands: the scale on its template, and the blade in the board, seen from the side."""

from __future__ import annotations

from django.utils.safestring import SafeString

from geometry.request import Request, TwoScales
from geometry.result import Result
from geometry.units import LengthStyle
from shop.drawings.svg import Drawing, Medium
from shop.drawings.words import UNIT_NAMES, written

SHOWN = 24.0  # mm of the board's length around the slot: enough to see a blade of 0.6 mm
SIDE = 4.4  # lines of text beside the board, for its figures


def draw_saw(
    result: Result,
    request: Request,
    *,
    depth: float | None = None,
    style: LengthStyle = LengthStyle.MM,
    width: float | None = None,
    medium: Medium = "screen",
) -> SafeString:
    """Draw the template with its scale, and below it the blade at its depth in the board.

    Parameters
    ----------
    result, request : Result, Request
        The board, worked out, and what was asked.
    depth : float, optional
        What the saw is set to, mm, where one setting serves several boards; else what this one needs.
    style : LengthStyle
        How lengths are written.
    width : float, optional
        Drawn width: CSS pixels (320), on paper mm (85).
    medium : "screen" or "paper"
        Where it is drawn.
    """
    width = width or (320 if medium == "screen" else 85)
    unit = Drawing("", "", (0, 0, 1, 1), width=1, medium=medium).pens.text  # one drawn unit is a line of text
    wide = width / unit
    scale = request.board.scale
    scales = [("bass", scale.bass), ("treble", scale.treble)] if isinstance(scale, TwoScales) else [("", scale)]
    high = 9.0 + 1.6 * (len(scales) - 1) + _thick(result, request) * (wide - 2 * SIDE) / SHOWN
    thick = written(_thick(result, request), style)
    depth = result.slots.depth_setting if depth is None else depth
    said = ", ".join(f"scale{' ' if name else ''}{name} {written(length, style)}" for name, length in scales)
    slot = f"{written(depth, style)} deep, {written(request.wire.kerf, style)} wide"
    on = Drawing(
        f"Set the saw, in {UNIT_NAMES[style]}: {said}, {slot}",
        f"Above, the slots along the board; below, the blade in a board {thick} thick. Not true size.",
        (0.0, 0.0, wide, high),
        width=width,
        medium=medium,
    )
    foot = _template(on, result, scales, wide, style)
    _blade(on, depth, _thick(result, request), request.wire.kerf, wide, foot + 1.4, style)
    return on.svg()


def _thick(result: Result, request: Request) -> float:
    """How thick the board is when it comes to the saw."""
    after = request.slotting == "after radiusing"
    return result.thickness.after_radiusing if after else result.thickness.before_radiusing


def _template(on: Drawing, result: Result, scales: list[tuple[str, float]], wide: float, style: LengthStyle) -> float:
    """Draw the slots to scale along the string's length, nut to the left, and say where the drawing goes on."""
    left, right = 0.8, wide - 0.8
    longest = max(length for _, length in scales)
    first = min(min(fret.bass[0], fret.treble[0]) for fret in result.board.frets)
    mm = (right - left) / (longest - min(first, 0.0))

    def along(x: float) -> float:
        return left + (x - min(first, 0.0)) * mm

    level = 1.4
    top = level + 0.9 + 1.6 * (len(scales) - 1)
    foot = top + 1.7
    on.outline([(left, foot), (left, top), (right, top), (right, foot)], class_="wood", fill=on.ground)
    for fret in result.board.frets:
        x, over = along(fret.bass[0]), along(fret.treble[0])
        on.line((x, foot), (over, top), pen="medium" if fret.fret else "thick", class_="fret")
    # The treble side lies away from the reader: its string is the one next to the drawing's upper edge.
    for name, length in reversed(scales):
        start = min(along(result.board.frets[0].treble[0]), along(result.board.frets[0].bass[0]), left + 1)
        words = f"scale {name + ' ' if name else ''}{written(length, style)}"
        end = (along(length), level)
        on.dimension((along(0.0), level), end, words, from_start=(max(start, along(0.0)), top), from_end=(end[0], top))
        level += 1.6
    return foot


def _blade(on: Drawing, depth: float, thick: float, kerf: float, wide: float, top: float, style: LengthStyle) -> None:
    """Draw the board cut along its length, and the blade that stands in it at its depth."""
    left, right = SIDE, wide - SIDE
    mm = (right - left) / SHOWN
    face = top + 3.4
    back, floor, middle = face + thick * mm, face + depth * mm, (left + right) / 2
    half = kerf * mm / 2
    # Two halves of one board, so that the slot stays empty beside the blade's hatching.
    on.outline(
        [
            *((left, face), (middle - half, face), (middle - half, floor)),
            *((middle + half, floor), (middle + half, face), (right, face), (right, back), (left, back)),
        ],
        pen="medium", class_="wood", fill=on.ground,
    )  # fmt: skip
    blade = [(middle - half, floor), (middle - half, top), (middle + half, top), (middle + half, floor)]
    on.outline(blade, pen="medium", class_="blade", fill=on.ink)
    on.text((middle + half + 0.5, top + 0.75), "blade")
    on.dimension(
        (left - 1.1, floor), (left - 1.1, face), written(depth, style),
        from_start=(middle - half, floor), from_end=(left, face),
    )  # fmt: skip
    on.dimension(
        (right + 1.9, back),
        (right + 1.9, face),
        written(thick, style),
        from_start=(right, back),
        from_end=(right, face),
    )
    on.dimension(
        (middle - half, top + 2.3), (middle + half, top + 2.3), written(kerf, style),
        from_start=(middle - half, face), from_end=(middle + half, face),
    )  # fmt: skip
