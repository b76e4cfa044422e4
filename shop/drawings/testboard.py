"""The test board of a jig: where its thickness is read."""

from __future__ import annotations

from django.utils.safestring import SafeString

from geometry.jigtest import FROM_END, FROM_SIDE, TestBoard
from geometry.units import LengthStyle
from shop.drawings.svg import Drawing, Medium
from shop.drawings.words import UNIT_NAMES, written


def draw_test_board(
    board: TestBoard, *, style: LengthStyle = LengthStyle.MM, width: float = 480.0, medium: Medium = "screen"
) -> SafeString:
    """Draw the board from above, with the six places where it is read. Its length is cut short to fit.

    Parameters
    ----------
    board : TestBoard
        Its size is written on it.
    style : LengthStyle
        How lengths are written.
    width : float
        Drawn width: CSS pixels, on paper mm.
    medium : "screen" or "paper"
        Where it is drawn.
    """
    unit = UNIT_NAMES[style]
    on = Drawing(
        f"Where the test board is read, in {unit}",
        f"Six places: in the middle and {written(FROM_SIDE, style)} in from either side, "
        f"{written(FROM_END, style)} in from the head end and from the heel end. Not to scale.",
        (0.0, 0.0, 480.0, 216.0), width=width, medium=medium,
    )  # fmt: skip
    left, right, top, foot, inset = 70.0, 410.0, 34.0, 150.0, 26.0
    on.outline([(left, foot), (left, top), (right, top), (right, foot)], class_="wood", fill=on.ground)
    middle = (top + foot) / 2
    on.line((left - 12, middle), (right + 12, middle), **on.dashes(0.9, 0.25, 0.2, 0.25))
    for x in (left + inset, right - inset):
        for y in (top + 15, middle, foot - 15):
            on.line((x - 6, y - 6), (x + 6, y + 6), pen="medium")
            on.line((x - 6, y + 6), (x + 6, y - 6), pen="medium")
    on.text((left + inset + 16, middle - 8), "head", bold=True)
    on.text((right - inset - 16, middle - 8), "heel", bold=True, anchor="end")
    on.text(((left + right) / 2, top + 21), "treble side", anchor="middle")
    on.text(((left + right) / 2, foot - 10), "bass side", anchor="middle")
    first, last = left + inset, right - inset
    on.dimension((left, 18), (first, 18), written(FROM_END, style), from_start=(left, top), from_end=(first, top + 9))
    on.dimension((438, foot), (438, foot - 15), "", from_start=(right, foot), from_end=(last + 6, foot - 15))
    on.text((446, foot - 2), written(FROM_SIDE, style))
    on.dimension((34, foot), (34, top), written(board.width, style), from_start=(left, foot), from_end=(left, top))
    on.dimension(
        (left, 186), (right, 186), written(board.length, style), from_start=(left, foot), from_end=(right, foot)
    )
    on.text((left, 210), f"Figures in {unit}, not to scale", class_="soft")
    return on.svg()
