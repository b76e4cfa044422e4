"""The arc of a former or of a block, small, beside its name in a list."""

from __future__ import annotations

from django.utils.safestring import SafeString

from geometry.units import LengthStyle
from shop.drawings.svg import Drawing, Medium, number
from shop.drawings.words import written_radius

ACROSS = 80.0  # mm of arc that are drawn
HEIGHTS = 3  # and so many times their height, so that arcs can be told apart


def draw_arc(
    radius: float | None,
    *,
    hollow: bool = False,
    style: LengthStyle = LengthStyle.MM,
    width: float = 120.0,
    medium: Medium = "screen",
) -> SafeString:
    """Draw an arc of a radius across 80 mm, its height three times as it is.

    Parameters
    ----------
    radius : float or None
        mm; None is flat. One rounder than 80 mm is drawn as if it were 80.
    hollow : bool
        A block's hollow below instead of a former's arc above.
    style : LengthStyle
        How the radius is said to a screen reader.
    width : float
        Drawn width: CSS pixels, on paper mm.
    medium : "screen" or "paper"
        Where it is drawn.
    """
    high = 36.0
    kind = "hollow" if hollow else "arc"
    title = f"Flat {kind}" if radius is None else f"{kind.capitalize()} of radius {written_radius(radius, style)}"
    on = Drawing(title, f"Height × {HEIGHTS}.", (0.0, 0.0, ACROSS, high), width=width, medium=medium)
    inset = on.pens.medium * on.unit
    half = ACROSS / 2 - inset
    left, right, top, foot = number(inset), number(ACROSS - inset), inset, high - inset
    if radius is None:
        arc, drop = "L", 0.0
    else:
        drawn = max(radius, ACROSS)  # rounder than any board, and no room for it in a row
        drop = HEIGHTS * (drawn - (drawn**2 - half**2) ** 0.5)
        # A circle of so much more height is an ellipse, exactly.
        arc = f"A{number(drawn)} {number(drawn * HEIGHTS)} 0 0 1 "
    if hollow:
        d = f"M{left} {number(foot)}{arc}{right} {number(foot)}V{number(top)}H{left}Z"
    else:
        shoulder = number(top + drop)
        d = f"M{left} {number(foot)}V{shoulder}{arc}{right} {shoulder}V{number(foot)}Z"
    on.path(d, pen="medium", class_="wood", fill=on.ground)
    return on.svg()
