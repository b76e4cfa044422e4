"""How wide words come out in the shop's typeface, read from the font itself."""

from __future__ import annotations

import functools

from fontTools.ttLib import TTFont

from shop.fonts import font_file

# A letter that the font lacks is set in another one, of which no more is known: an emoji is about this wide.
_UNKNOWN = 1.4


@functools.cache
def _advances(weight: int) -> dict[int, float]:
    with TTFont(font_file(weight), lazy=True) as font:
        em, widths = font["head"].unitsPerEm, font["hmtx"]
        return {code: widths[name][0] / em for code, name in font.getBestCmap().items()}


def width_in_em(words: str, weight: int = 400) -> float:
    """Tell how wide a line of words is, in heights of its type: without kerning, which hardly ever widens it."""
    advances = _advances(weight)
    return sum(advances.get(ord(letter), _UNKNOWN) for letter in words)
