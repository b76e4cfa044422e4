"""How the taper is laid out: the finished outline on the board's centreline, and the cut that stands proud of it."""

from __future__ import annotations

from django.utils.safestring import SafeString

from geometry.outline import outline, rough_widths
from geometry.request import Request
from geometry.result import Result
from geometry.units import LengthStyle, format_small
from shop.drawings.svg import Drawing, Medium, Point
from shop.drawings.words import UNIT_NAMES

ACROSS = 2.4  # how much wider than true, so that a taper of a few mm is seen


def draw_taper(
    result: Result,
    request: Request,
    *,
    style: LengthStyle = LengthStyle.MM,
    width: float | None = None,
    medium: Medium = "screen",
) -> SafeString:
    """Draw the template on the blank from above, head to the left, and the line to cut along.

    Parameters
    ----------
    result, request : Result, Request
        The board, worked out, and what was asked.
    style : LengthStyle
        How lengths are written.
    width : float, optional
        Drawn width: CSS pixels (360), on paper mm (120).
    medium : "screen" or "paper"
        Where it is drawn.
    """
    width = width or (360 if medium == "screen" else 120)
    board, proud = request.board, request.allowances.edge
    nut, heel = rough_widths(board.nut_width, board.heel_width, proud)
    size = request.blank or result.blank_needed
    text = Drawing("", "", (0, 0, 1, 1), width=1, medium=medium).pens.text

    def small(value: float) -> str:
        return format_small(value, style, with_unit=False)

    head = result.board.length - result.board.overall - request.allowances.end
    t = text * size.length / (width - 2 * 3.2 * text)  # a line of text, in mm along the board
    half = ACROSS * size.width / 2
    top, foot = half + 2.1 * t, half + 3.4 * t
    on = Drawing(
        f"Lay the template on the centreline, in {UNIT_NAMES[style]}",
        f"Cut along the outer line, {small(nut)} wide at the nut, {small(heel)} at the heel: "
        f"{small(proud)} proud of the finished board at each side. Width × {ACROSS:g}.",
        (head - 3.2 * t, -top, size.length + 6.4 * t, top + foot),
        width=width,
        medium=medium,
    )
    on.outline(_box(head, head + size.length, half), class_="blank ground", fill=on.ground, **on.dashes(0.5, 0.25))
    for edge, how in (
        (proud, {"pen": "thick", "class_": "cut ground", "fill": on.ground}),
        (0.0, {"pen": "medium", "class_": "board wood", "fill": on.ground}),
    ):
        corners = outline(result.board, board.nut_width, board.heel_width, nut_ledge=board.nut_ledge, edge=edge)
        on.outline([(x, -ACROSS * y) for x, y in corners], **how)
    on.line(
        (head - 0.8 * t, 0), (head + size.length + 0.8 * t, 0), class_="centreline", **on.dashes(1.2, 0.3, 0.15, 0.3)
    )
    on.cleared((result.board.length / 2, 0.35 * t), "centreline", anchor="middle")
    length, over = result.board.length, head + size.length
    for x, at, wide in ((head - 1.2 * t, 0.0, nut), (over + 2.2 * t, length, heel)):
        y = ACROSS * wide / 2
        on.dimension((x, y), (x, -y), small(wide), from_start=(at, y), from_end=(at, -y))
    # Where it stands proud: a leader from the strip between the two lines.
    x = 0.62 * length
    between = ACROSS * (board.nut_width + (board.heel_width - board.nut_width) * x / length + proud) / 2
    on.line((x, between), (x, half + 0.7 * t))
    on.text((x, half + 1.6 * t), f"{small(proud)} proud at each side", anchor="middle", bold=True)
    on.text((head, -half - 0.7 * t), "head")
    on.text((over, -half - 0.7 * t), "heel", anchor="end")
    on.text((head, foot - 0.35 * t), f"Width × {ACROSS:g}", class_="soft")
    return on.svg()


def _box(x0: float, x1: float, half: float) -> list[Point]:
    return [(x0, half), (x0, -half), (x1, -half), (x1, half)]
