"""What stands on the radiusing jig: the two ends with their radii, the board between them, the riser in or out."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString

from geometry.units import LengthStyle
from shop.drawings.svg import Drawing, Medium, Point, number
from shop.drawings.words import written_radius


@dataclass(frozen=True, slots=True)
class JigEnd:
    """One end of the jig: the radius that is cut there (None is flat) and the former that stands there, if known."""

    radius: float | None
    former: str = ""


def draw_jig(
    head: JigEnd,
    heel: JigEnd,
    *,
    riser_in: bool,
    board_width: float = 60.0,
    style: LengthStyle = LengthStyle.MM,
    width: float | None = None,
    medium: Medium = "screen",
) -> SafeString:
    """Draw the setup: both ends seen along the jig, and the jig from the side. Not to scale but for the curves.

    Parameters
    ----------
    head, heel : JigEnd
        What is cut and what stands at either end.
    riser_in : bool
        Whether the riser is in the bed; it comes out for a board that is already on its neck.
    board_width : float
        Width of arc drawn, mm.
    style : LengthStyle
        How the radii are written.
    width : float, optional
        Drawn width: CSS pixels (264), on paper mm (85).
    medium : "screen" or "paper"
        Where it is drawn.
    """
    first = Drawing("", "", (0, 0, 1, 1), width=1, medium=medium).pens.text
    width = width or (264 if medium == "screen" else 85)
    unit = first  # one drawn unit is a line of text
    wide, high = width / unit, 13.0
    words = [f"{name} {written_radius(end.radius, style)}" for name, end in (("head", head), ("heel", heel))]
    riser = "riser in" if riser_in else "riser out, board on its neck"
    on = Drawing(
        f"On the jig: {words[0]}, {words[1]}, {riser}",
        "Both ends seen along the jig, and the jig from the side. Curves to scale, the rest not.",
        (0.0, 0.0, wide, high),
        width=width,
        medium=medium,
    )
    for middle, name, end in ((wide * 0.25, "Head", head), (wide * 0.75, "Heel", heel)):
        _end(on, middle, 0.44 * wide, name, end, board_width, style)
    _side(on, wide, 8.4, riser_in)
    return on.svg()


def _end(on: Drawing, x: float, wide: float, name: str, end: JigEnd, board_width: float, style: LengthStyle) -> None:
    """Draw one former as it is seen along the jig, its radius written large under the arc."""
    half, crown, foot = wide / 2, 1.5, 6.9
    radius = end.radius * wide / board_width if end.radius else None
    drop = radius - (radius**2 - half**2) ** 0.5 if radius and radius > half else 0.0
    arc = f"A{number(radius)} {number(radius)} 0 0 1 " if radius and radius > half else "L"
    shoulder = crown + drop
    left, right = number(x - half), number(x + half)
    d = f"M{left} {number(foot)}V{number(shoulder)}{arc}{right} {number(shoulder)}V{number(foot)}Z"
    on.text((x, 0.9), name + (f", former {end.former}" if end.former else ""), anchor="middle")
    on.path(d, pen="thick", class_="former wood", fill=on.ground)
    words = written_radius(end.radius, style)
    size = min(2.2, 0.86 * wide / max(on.text_width(words), 1e-9))
    on.text((x, 5.2), words, anchor="middle", bold=True, size=size)


def _side(on: Drawing, wide: float, top: float, riser_in: bool) -> None:
    """Draw the jig from the side: two formers on a bed, the board between them, on its riser or on its neck."""
    bed, left, right, thick = top + 3.6, 0.02 * wide, 0.98 * wide, 0.05 * wide
    on.outline(_level(left, right, bed, bed + 0.7), class_="bed ground", fill=on.ground)
    for x in (left, right - thick):
        on.outline(_level(x, x + thick, top, bed), pen="thick", class_="wood", fill=on.ground)
    on.line((left, top), (right, top), pen="medium", class_="rails", **on.dashes(0.9, 0.35))
    first, last = 0.16 * wide, 0.84 * wide
    face, glue = top + 0.9, top + 1.6
    if riser_in:
        under = [(first, glue), (last, glue), (last, bed), (first, bed)]
        on.outline(under, class_="riser")
        on.hatch(under, every=0.5)
    else:
        back, nose = glue + 0.75, first - 0.09 * wide  # the neck hangs free of the bed but for its heel
        foot = (last, bed), (last - 0.1 * wide, bed), (last - 0.14 * wide, back)
        neck = [(last, glue), *foot, (first, back), (nose, back + 0.7), (nose, back + 0.1), (first, glue)]
        on.outline(neck, class_="neck wood", fill=on.ground)
    on.outline(_level(first, last, face, glue), pen="medium", class_="board ground", fill=on.ground)
    on.cleared((wide / 2, bed - 0.35), "riser in" if riser_in else "riser out", anchor="middle", bold=True)


def _level(left: float, right: float, top: float, foot: float) -> list[Point]:
    return [(left, foot), (left, top), (right, top), (right, foot)]
