"""What is clamped up: the caul with its hollow, the board under it, the neck under the board, at both ends."""

from __future__ import annotations

from django.utils.safestring import SafeString

from geometry.units import LengthStyle
from shop.drawings.svg import Drawing, Medium, number
from shop.drawings.words import written_radius


def draw_cauls(
    head: float | None,
    heel: float | None,
    *,
    board_width: float = 60.0,
    style: LengthStyle = LengthStyle.MM,
    width: float | None = None,
    medium: Medium = "screen",
) -> SafeString:
    """Draw both ends of a board in its cauls, cut across. The curves are to scale, the rest not.

    Parameters
    ----------
    head, heel : float or None
        Radius of the hollow at either end, mm; None is flat.
    board_width : float
        Width of arc drawn, mm.
    style : LengthStyle
        How the radii are written.
    width : float, optional
        Drawn width: CSS pixels (320), on paper mm (85).
    medium : "screen" or "paper"
        Where it is drawn.
    """
    width = width or (320 if medium == "screen" else 85)
    unit = Drawing("", "", (0, 0, 1, 1), width=1, medium=medium).pens.text  # one drawn unit is a line of text
    wide = width / unit
    words = [f"{name} {written_radius(radius, style)}" for name, radius in (("head", head), ("heel", heel))]
    on = Drawing(
        f"Cauls: {words[0]}, {words[1]}",
        "Both ends cut across: clamp, caul, board, neck. Curves to scale, the rest not.",
        (0.0, 0.0, wide, 12.6),
        width=width,
        medium=medium,
    )
    for middle, name, radius in ((wide * 0.25, "Head", head), (wide * 0.75, "Heel", heel)):
        _end(on, middle, 0.4 * wide, name, radius, board_width, style)
    return on.svg()


def _end(on: Drawing, x: float, wide: float, name: str, radius: float | None, board: float, style: LengthStyle) -> None:
    """Draw one end: the clamp's press from above, the caul's hollow on the board's curve, the neck below."""
    half, top, crown, foot, nose = wide / 2, 2.6, 6.2, 8.4, 11.6
    drawn = max(radius * wide / board, half) if radius else None
    drop = drawn - (drawn**2 - half**2) ** 0.5 if drawn else 0.0
    edge = number(min(crown + drop, foot - 0.3))
    arc = f"A{number(drawn)} {number(drawn)} 0 0 1 " if drawn else "L"
    left, right = number(x - half), number(x + half)
    on.text((x, 0.9), name, anchor="middle")
    on.line((x, 1.2), (x, top), pen="medium")
    on.arrow((x, top), (0.0, 1.0))
    on.path(f"M{left} {edge}V{number(top)}H{right}V{edge}", pen="thick", class_="caul ground", fill=on.ground)
    on.path(
        f"M{left} {number(foot)}V{edge}{arc}{right} {edge}V{number(foot)}Z", pen="thick", class_="board wood",
        fill=on.ground,
    )  # fmt: skip
    on.path(
        f"M{left} {number(foot)}A{number(half)} {number(nose - foot)} 0 0 0 {right} {number(foot)}Z", pen="medium",
        class_="neck ground", fill=on.ground,
    )  # fmt: skip
    on.text((x, foot - 0.5), "board", anchor="middle")
    on.text((x, foot + 1.5), "neck", anchor="middle")
    words = written_radius(radius, style)
    size = min(1.8, 0.86 * wide / max(on.text_width(words), 1e-9))
    on.text((x, top + 2.3), words, anchor="middle", bold=True, size=size)
