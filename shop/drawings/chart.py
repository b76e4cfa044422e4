"""What changes with the days: readings, bands and curves over one time axis, for the air and for the wood in it."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.safestring import SafeString

from shop.drawings.svg import Drawing, Medium, Point

Series = Sequence[Point]  # days since the first day of the chart, and a figure
At = Callable[[Point], Point]
Beside = tuple[float, str]  # a height, and the words that want to stand there

WIDE, LEFT, RIGHT = 960.0, 64.0, 196.0  # px, as drawn on the screen; the right margin carries the words
TALL, GAP, FOOT = 210.0, 44.0, 34.0
_STEPS = (1, 2, 5, 7, 14, 28, 56, 91, 182, 365)


@dataclass(frozen=True, slots=True)
class Band:
    """A range that figures should lie in, or will lie in likely: between dashes, with words beside it."""

    low: Series
    high: Series
    words: str
    filled: bool = True


@dataclass(frozen=True, slots=True)
class Line:
    """A line through figures; ``dashed`` where nobody has read them. ``dots``: each is a reading."""

    points: Series
    words: str = ""
    dashed: bool = False
    dots: bool = False


@dataclass(frozen=True, slots=True)
class Panel:
    """One quantity: its name with the unit, and all that is drawn of it."""

    title: str
    lines: list[Line] = field(default_factory=list)
    bands: list[Band] = field(default_factory=list)

    def limits(self) -> tuple[float, float, float]:
        """Find least and most of the scale, at full steps, and the step."""
        every = [y for line in self.lines for _, y in line.points]
        every += [y for band in self.bands for side in (band.low, band.high) for _, y in side]
        low, high = (min(every), max(every)) if every else (0.0, 1.0)
        step = next((s for s in (0.5, 1, 2, 5, 10, 20, 50) if max(high - low, 1.0) / s <= 6), 100)
        # Nothing is drawn upon the frame itself.
        return math.floor((low - 0.2 * step) / step) * step, math.ceil((high + 0.2 * step) / step) * step, step


def draw_chart(
    panels: Sequence[Panel], begins: date, days: float, *, title: str, desc: str, today: float | None = None,
    medium: Medium = "screen", width: float | None = None,
) -> SafeString:  # fmt: skip
    """Draw panels one above the other over one time axis.

    Parameters
    ----------
    panels : sequence of Panel
        From the top down.
    begins : date
        The first day.
    days : float
        How many days the axis spans.
    today : float, optional
        The day of today on that axis, marked with an upright line.
    """
    days = max(days, 1.0)
    high = len(panels) * (TALL + GAP) + FOOT
    on = Drawing(title, desc, (0.0, 0.0, WIDE, high), width=width or WIDE, medium=medium)
    right = WIDE - RIGHT
    for place, panel in enumerate(panels):
        top = place * (TALL + GAP) + GAP
        least, most, step = panel.limits()
        scale = (right - LEFT) / days, TALL / (most - least)

        def at(point: Point, top: float = top, least: float = least, scale: Point = scale) -> Point:
            x = LEFT + min(max(point[0], 0.0), days) * scale[0]
            return x, top + TALL - (point[1] - least) * scale[1]

        on.text((0.0, top - 0.9 * on.text_height), panel.title, bold=True)
        beside: list[Beside] = []
        for band in panel.bands:
            _draw_band(on, band, at, beside)
        _draw_scale(on, least, most, step, at, right)
        for line in panel.lines:
            _draw_line(on, line, at, beside)
        write_beside(on, beside, right)
        if today is not None and 0 < today <= days:
            x = at((today, least))[0]
            on.line((x, top - 0.2 * on.text_height), (x, top + TALL), pen="medium")
            on.text((x, top - 0.45 * on.text_height), "today", anchor="middle")
    _draw_days(on, begins, days, high - FOOT, right)
    return on.svg()


def _draw_scale(on: Drawing, least: float, most: float, step: float, at: At, right: float) -> None:
    count = round((most - least) / step)
    for k in range(count + 1):
        value = least + k * step
        x, y = at((0.0, value))
        on.line((x, y), (right, y), class_="grid", stroke_opacity=0.35)
        text = f"{value:.1f}" if step < 1 else f"{value:.0f}"
        on.text((x - 0.5 * on.text_height, y + 0.33 * on.text_height), text, anchor="end")


def _draw_band(on: Drawing, band: Band, at: At, beside: list[Beside]) -> None:
    corners = [at(point) for point in band.low] + [at(point) for point in reversed(band.high)]
    if len(corners) < 4:
        return
    if band.filled:
        on.outline(corners, class_="wood", stroke="none", fill=on.ground)
    for side in (band.low, band.high):
        on.outline([at(point) for point in side], pen="thin", closed=False, **on.dashes(0.5, 0.3))
    if band.words:
        beside.append(((at(band.low[-1])[1] + at(band.high[-1])[1]) / 2, band.words))


def _draw_line(on: Drawing, line: Line, at: At, beside: list[Beside]) -> None:
    if not line.points:
        return
    placed = [at(point) for point in line.points]
    if len(placed) > 1:
        dashes = on.dashes(0.6, 0.35) if line.dashed else {}
        on.outline(placed, pen="thick" if line.dots else "medium", closed=False, **dashes)
    if line.dots or len(placed) == 1:
        for x, y in placed:
            on.add("circle", cx=x, cy=y, r=4.2, fill=on.ink, stroke="none")
    if line.words:
        beside.append((placed[-1][1], line.words))


def write_beside(on: Drawing, beside: list[Beside], right: float) -> None:
    """Write words in the right margin, each as near to its height as the others leave room."""
    t = on.text_height
    blocks = sorted(((y, _broken(on, words, RIGHT - t)) for y, words in beside), key=lambda block: block[0])
    heights = [(len(lines) - 1) * 1.1 * t + 1.25 * t for _, lines in blocks]
    wanted = [y - height / 2 for (y, _), height in zip(blocks, heights, strict=True)]
    tops: list[float] = []
    for top in wanted:
        tops.append(max(top, tops[-1] + heights[len(tops) - 1]) if tops else top)
    # Pushed down more than needed: draw all of them up together, so that the middle ones stand right.
    lift = max((placed - top for placed, top in zip(tops, wanted, strict=True)), default=0.0) / 2
    for top, (_, lines) in zip(tops, blocks, strict=True):
        for k, line in enumerate(lines):
            on.text((right + 0.6 * t, top - lift + t * (0.95 + 1.1 * k)), line)


def _broken(on: Drawing, words: str, room: float) -> list[str]:
    lines = [""]
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and on.text_width(longer) > room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _draw_days(on: Drawing, begins: date, days: float, y: float, right: float) -> None:
    """Mark the days below: as many as there is room to write."""
    step = next((s for s in _STEPS if days / s <= 7), math.ceil(days / 7))
    for k in range(int(days / step) + 1):
        x = LEFT + k * step * (right - LEFT) / days
        on.line((x, y), (x, y + 0.4 * on.text_height), pen="medium")
        day = begins + timedelta(days=k * step)
        words = date_format(day, "j M Y") if step >= 91 else date_format(day, "j M")
        on.text((x, y + 1.5 * on.text_height), words, anchor="middle")
    on.line((LEFT, y), (right, y), pen="medium")
