"""How the thicknesser stands: its table, the cutter above, and the gap between them."""

from __future__ import annotations

from django.utils.safestring import SafeString

from geometry.units import LengthStyle
from shop.drawings.svg import Drawing, Medium
from shop.drawings.words import UNIT_NAMES, written


def draw_thicknesser(
    leave: float, *, style: LengthStyle = LengthStyle.MM, width: float | None = None, medium: Medium = "screen"
) -> SafeString:
    """Draw a board that goes under the cutter and comes out as thick as the gap. Not to scale.

    Parameters
    ----------
    leave : float
        Thickness to leave, mm.
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
    on = Drawing(
        f"Set the thicknesser to {written(leave, style)}, in {UNIT_NAMES[style]}",
        "The table, a board on it, the cutter above it, seen from the side. Not to scale.",
        (0.0, 0.0, wide, 10.2),
        width=width,
        medium=medium,
    )
    table, out, before, round_ = 9.2, 7.2, 6.5, 2.6
    on.outline([(0.2, table), (wide - 0.2, table), (wide - 0.2, table + 0.8), (0.2, table + 0.8)], class_="ground",
               fill=on.ground)  # fmt: skip
    words, size = written(leave, style), 1.6
    beside = on.text_width(words, size) + 1.2  # the figure, right of its arrow
    first, last = 0.6, wide - beside - 2.2
    middle = 0.55 * (first + last)
    # The cutter is round: where it is still cutting, the face rises along it to what is not cut yet.
    reach = (round_**2 - (round_ - (out - before)) ** 2) ** 0.5
    d = (
        f"M{first:.3f} {table}V{before}H{middle - reach:.3f}A{round_} {round_} 0 0 0 {middle:.3f} {out}"
        f"H{last:.3f}V{table}Z"
    )
    on.path(d, pen="medium", class_="board wood", fill=on.ground)
    on.add("circle", cx=middle, cy=out - round_, r=round_, fill=on.ground, class_="ground",
           stroke_width=on.pens.medium * on.unit)  # fmt: skip
    on.line((middle - 0.4, out - round_), (middle + 0.4, out - round_))
    on.line((middle, out - round_ - 0.4), (middle, out - round_ + 0.4))
    on.text((middle + round_ + 0.4, 2.9), "cutter")
    on.text((first, before - 1.5), "feed")
    on.line((first, before - 0.8), (first + 3.2, before - 0.8))
    on.arrow((first + 3.2, before - 0.8), (1.0, 0.0))
    x = wide - beside - 0.6
    on.dimension((x, table), (x, out), "", from_start=(last, table), from_end=(last, out))
    on.text((x + 0.6, (table + out) / 2 + 0.36 * size), words, bold=True, size=size)
    return on.svg()
