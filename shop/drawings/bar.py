"""A bar in a ruled list: how often something happened, against the most that anything in the list did."""

from __future__ import annotations

from django.utils.safestring import SafeString

from shop.drawings.svg import Drawing

WIDE, TALL = 220.0, 22.0  # px


def draw_bar(part: float, most: float, words: str) -> SafeString:
    """Draw one bar, hatched like cut wood; as long as the list is wide for the most frequent.

    Parameters
    ----------
    part, most : float
        What it stands for, and what the longest bar of the list does.
    words : str
        What a screen reader says in its place.
    """
    on = Drawing(words, words, (0, 0, WIDE, TALL), width=WIDE)
    right = max((WIDE - 2) * part / most, 3.0) if most else 0.0
    if right:
        corners = [(1.0, 3.0), (1.0 + right, 3.0), (1.0 + right, TALL - 3), (1.0, TALL - 3)]
        on.hatch(corners, every=6.0)
        on.outline(corners)
    return on.svg()
