"""A board seen from its heel end: the curve as it was measured, against the curve as it should be."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from django.utils.safestring import SafeString

from geometry.units import LengthStyle, format_small
from shop.drawings.svg import Drawing, Medium, Point
from shop.drawings.words import UNIT_NAMES, written_radius

TIMES = (1, 2, 4, 8, 16, 32, 64)  # how much higher than true; the drawing says which
SHOWN = 0.2  # mm, the least that the middle of a curve is off for its distance to be drawn
STEPS = 48  # straight pieces of a drawn curve


@dataclass(frozen=True, slots=True)
class Arc:
    """A curve across a board: its radius (None where flat, negative where hollow), where its middle lies, how high.

    ``offset`` is towards the treble side, ``apex`` counts from where the readings do, ``slope`` is how much a flat
    board rises with each mm towards the treble. Lengths are mm.
    """

    radius: float | None
    offset: float
    apex: float
    slope: float = 0.0

    def height(self, y: float) -> float:
        """Give its height at a place across the board."""
        if self.radius is None:
            return self.apex + self.slope * y
        radius, away = abs(self.radius), min(abs(y - self.offset), abs(self.radius))
        drop = away**2 / (radius + math.sqrt(radius**2 - away**2))
        return self.apex - math.copysign(drop, self.radius)


@dataclass(frozen=True, slots=True)
class EndView:
    """One station of a board: its name, its width there, the two curves, what was read where, which side is high."""

    name: str
    wide: float
    wanted: Arc
    found: Arc
    points: tuple[Point, ...]
    high: str = ""


def draw_end_view(
    view: EndView,
    *,
    style: LengthStyle = LengthStyle.MM,
    width: float = 380,
    medium: Medium = "screen",
) -> SafeString:
    """Draw one station.

    Parameters
    ----------
    view : EndView
        What is drawn.
    style : LengthStyle
        How lengths are written.
    width : float
        Drawn width: CSS pixels, on paper mm.
    medium : "screen" or "paper"
        Where it is drawn.
    """
    return _EndView(view, style, width, medium).draw()


class _EndView:
    def __init__(self, view: EndView, style: LengthStyle, width: float, medium: Medium) -> None:
        self.view, self.style, self.half = view, style, view.wide / 2
        text = Drawing("", "", (0, 0, 1, 1), width=1, medium=medium).pens.text
        beside = 4.2  # text heights on either side, for the outermost readings
        self.t = t = text * view.wide / (width - 2 * beside * text)
        heights = [z for _, z in view.points]
        for arc in (view.wanted, view.found):
            heights += [arc.height(y) for y in (-self.half, 0.0, self.half)]
        self.low, self.high = min(heights), max(heights)
        span = max(self.high - self.low, 1e-6)
        self.times = max((k for k in TIMES if k * span <= 0.3 * view.wide), default=1)
        self.left = -self.half - beside * t
        self.above, self.below = 4.6 * t, 4.8 * t
        self.foot = span * self.times + 1.2 * t
        title = f"{view.name}, in {UNIT_NAMES[style]}, height × {self.times}"
        box = (self.left, -self.above, 2 * (self.half + beside * t), self.above + self.foot + self.below)
        self.on = Drawing(title, self._said(), box, width=width, medium=medium)

    def _small(self, value: float) -> str:
        return format_small(value, self.style, with_unit=False)

    def _said(self) -> str:
        found, wanted = self.view.found, self.view.wanted
        read = ", ".join(f"{self._small(z)} {side_of(y, self.style)}" for y, z in self.view.points)
        off = f"{self._small(abs(found.offset))} towards the {'treble' if found.offset > 0 else 'bass'} side"
        where = off if abs(found.offset) >= SHOWN else "on the centreline"
        return (
            f"Read {read}. The middle of the curve lies {where}. "
            f"It should be {written_radius(wanted.radius, self.style)} with its middle on the centreline."
        )

    def _at(self, y: float, z: float) -> Point:
        return y, (self.high - z) * self.times

    def _curve(self, arc: Arc) -> list[Point]:
        return [self._at(y, arc.height(y)) for y in (self.half * (2 * k / STEPS - 1) for k in range(STEPS + 1))]

    def draw(self) -> SafeString:
        on, t, view, half = self.on, self.t, self.view, self.half
        found = self._curve(view.found)
        body = [(-half, self.foot), *found, (half, self.foot)]
        on.outline(body, pen="thin", class_="wood ground", fill=on.ground, stroke="none")
        on.outline([(-half, self.foot), *found, (half, self.foot)], pen="thick", closed=False)
        on.line((-half, self.foot), (half, self.foot), **on.dashes(0.7, 0.35))  # the rest of the board is left out
        on.outline(self._curve(view.wanted), closed=False, class_="wanted", **on.dashes(0.45, 0.3))
        on.line((0, -0.9 * t), (0, self.foot + 0.5 * t), **on.dashes(0.9, 0.25, 0.15, 0.25))
        self._middle()
        for y, z in view.points:
            self._reading(y, z)
        on.text((self.left, -self.above + t), view.name, bold=True)
        for side, x, anchor in (("bass", -half, "start"), ("treble", half, "end")):
            words = f"{side}, high" if view.high == side else side
            on.text((x, self.foot + 1.2 * t), words, anchor=anchor, bold=True)
        self._key()
        foot = f"Seen from the heel. Figures in {UNIT_NAMES[self.style]}, height × {self.times}"
        on.text((0, self.foot + 4.1 * t), foot, anchor="middle", class_="soft")
        return on.svg()

    def _key(self) -> None:
        """Say which line is which."""
        on, t = self.on, self.t
        words, stroke, gap = ("measured", "as it should be"), 1.8 * t, 0.4 * t
        total = 2 * (stroke + gap) + 1.2 * t + sum(map(on.text_width, words))
        x, y = -total / 2, self.foot + 2.6 * t
        for text, pen, dashes in zip(words, ("thick", "medium"), ({}, on.dashes(0.45, 0.3)), strict=True):
            on.line((x, y - 0.3 * t), (x + stroke, y - 0.3 * t), pen=pen, **dashes)
            on.text((x + stroke + gap, y), text)
            x += stroke + gap + on.text_width(text) + 1.2 * t

    def _middle(self) -> None:
        """Mark where the middle of the curve really is."""
        on, t, found = self.on, self.t, self.view.found
        if found.radius is None or abs(found.offset) < SHOWN:
            return
        side = math.copysign(1, found.offset)
        at = min(abs(found.offset), self.half) * side
        _, y = self._at(at, found.height(at))
        on.line((at, -1.4 * t), (at, y), pen="medium")
        on.dimension((0, -1.4 * t), (at, -1.4 * t), "")
        words = f"middle {self._small(abs(found.offset))} to the {'treble' if side > 0 else 'bass'}"
        room = -self.left - on.text_width(words) / 2
        on.text((max(-room, min(at, room)), -2.1 * t), words, anchor="middle", bold=True)

    def _reading(self, y: float, z: float) -> None:
        on, t = self.on, self.t
        at = self._at(y, z)
        on.add("circle", cx=at[0], cy=at[1], r=0.22 * t, fill=on.ground, stroke_width=on.pens.medium * on.unit,
               class_="ground")  # fmt: skip
        outer = abs(y) > 0.85 * self.half
        if outer:
            side = math.copysign(1, y)
            on.text((side * (self.half + 0.5 * t), at[1] + 0.35 * t), self._small(z),
                    anchor="start" if side > 0 else "end")  # fmt: skip
        else:
            on.cleared((y, at[1] + 1.35 * t), self._small(z), anchor="middle")


def side_of(y: float, style: LengthStyle) -> str:
    """Say where across a board a place lies."""
    if abs(y) < 0.005:
        return "on the centreline"
    return f"{format_small(abs(y), style, with_unit=False)} to the {'treble' if y > 0 else 'bass'}"


def corners_view(
    name: str,
    wide: float,
    radius: float | None,
    apex: float,
    read: tuple[float, float],
    off: float,
    tolerance: float = 0.0,
) -> EndView:
    """Draw what the two corners of an end say: bass and treble as read, the middle of the curve as far off as found.

    A side is called high where it is thicker than the other by more than `tolerance`.
    """
    bass, treble = read
    wanted, found = Arc(radius, 0.0, apex), Arc(radius, off, 0.0, 0.0 if radius else (treble - bass) / wide)
    lift = (bass + treble) / 2 - (found.height(-wide / 2) + found.height(wide / 2)) / 2
    high = "" if abs(bass - treble) <= tolerance + 1e-9 else "bass" if bass > treble else "treble"
    return EndView(name, wide, wanted, replace(found, apex=lift), ((-wide / 2, bass), (wide / 2, treble)), high)
