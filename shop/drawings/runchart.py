"""A run chart: readings board after board against target, limits and tolerance, and the moving range below them."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence

from django.utils.safestring import SafeString

from geometry.control import ControlChart
from geometry.units import LengthStyle, format_small
from shop.drawings.chart import LEFT, RIGHT, WIDE, write_beside
from shop.drawings.svg import Drawing, Point

TALL, LOW, GAP, FOOT = 250.0, 126.0, 56.0, 40.0  # px: readings, moving range, room above each, room for names
_RING = 8.5


def draw_run_chart(
    off: Sequence[float],
    names: Sequence[str],
    *,
    limits: ControlChart | None,
    tolerance: float,
    marks: Mapping[int, str],
    leaps: Collection[int],
    style: LengthStyle,
    title: str,
) -> SafeString:
    """Draw readings in the order in which they were taken.

    Parameters
    ----------
    off : sequence of float
        How far each was off its target, mm.
    names : sequence of str
        What each is called.
    limits : ControlChart, optional
        Centre line and limits, mm; none are drawn without.
    tolerance : float
        How far a reading may be off, mm.
    marks : mapping
        What is written at a reading that met a rule; such a reading has a ring around it.
    leaps : collection of int
        Places where the moving range is beyond its limit.
    """
    ranges = [abs(after - before) for before, after in zip(off, off[1:], strict=False)]
    high = GAP + TALL + (GAP + LOW if ranges else 0) + FOOT
    met = ", ".join(names[place] for place in sorted(marks))
    desc = f"{len(off)} readings from {names[0]} to {names[-1]}. " + (f"Rules are met at {met}." if met else "")
    on = Drawing(title, f"{desc} The table below has each of them.", (0.0, 0.0, WIDE, high), width=WIDE)
    right, unit = WIDE - RIGHT, "mm" if style is LengthStyle.MM else "in"
    step = (right - LEFT) / max(len(off), 1)

    def x(place: int) -> float:
        return LEFT + (place + 0.5) * step

    on.text((0.0, GAP - 1.6 * on.text_height), f"{title}: off the target, {unit}", bold=True)
    every = [*off, -tolerance, tolerance, *((limits.low, limits.high) if limits else ())]
    at = _scale(on, min(every), max(every), GAP, TALL, right, style, signed=True)
    beside = _lines(on, at, right, limits, tolerance, style)
    _points(on, [(x(place), at(value)) for place, value in enumerate(off)])
    _rings(on, [(x(place), at(off[place])) for place in sorted(marks)])
    _write_marks(on, [(x(place), at(off[place]), marks[place]) for place in sorted(marks)])
    write_beside(on, beside, right)
    if ranges:
        top = GAP + TALL + GAP
        on.text((0.0, top - 0.9 * on.text_height), f"From one board to the next, {unit}", bold=True)
        most = max([*ranges, limits.range_high if limits else 0.0])
        at = _scale(on, 0.0, most, top, LOW, right, style, signed=False)
        below = []
        if limits:
            for height, words in ((limits.mean_range, "mean"), (limits.range_high, "limit")):
                on.line((LEFT, at(height)), (right, at(height)), pen="medium", **_dashes(on, words))
                below.append((at(height), f"{words} {format_small(height, style, with_unit=False)}"))
        _points(on, [(x(place + 1), at(value)) for place, value in enumerate(ranges)])
        _rings(on, [(x(place), at(ranges[place - 1])) for place in leaps])
        write_beside(on, below, right)
    _write_names(on, names, x, high - FOOT)
    return on.svg()


def _dashes(on: Drawing, line: str) -> dict[str, str]:
    """Tell lines apart by their dashes: the limits long and short, the mean long."""
    return on.dashes(1.0, 0.3, 0.2, 0.3) if line == "limit" else on.dashes(0.9, 0.45)


def _lines(
    on: Drawing, at: Callable[[float], float], right: float, limits: ControlChart | None, tolerance: float,
    style: LengthStyle,
) -> list[tuple[float, str]]:  # fmt: skip
    def said(value: float) -> str:
        sign = "+" if value > 0 else "\u2212" if value < 0 else ""
        size = format_small(abs(value), style, with_unit=False)
        return f"{sign}{size}" if float(size) else size

    corners = [(LEFT, at(tolerance)), (right, at(tolerance)), (right, at(-tolerance)), (LEFT, at(-tolerance))]
    on.outline(corners, class_="wood", stroke="none", fill=on.ground, fill_opacity=0.6)
    for side in (tolerance, -tolerance):
        on.line((LEFT, at(side)), (right, at(side)), **on.dashes(0.15, 0.25))
    on.line((LEFT, at(0.0)), (right, at(0.0)), pen="medium")
    beside = [(at(0.0), "target"), (at(tolerance), f"tolerance {said(tolerance)}")]
    beside.append((at(-tolerance), f"tolerance {said(-tolerance)}"))
    if limits:
        for side, words in ((limits.high, "limit"), (limits.centre, "mean"), (limits.low, "limit")):
            on.line((LEFT, at(side)), (right, at(side)), pen="medium", **_dashes(on, words))
            beside.append((at(side), f"{words} {said(side)}"))
    return beside


def _scale(
    on: Drawing, low: float, high: float, top: float, tall: float, right: float, style: LengthStyle, *, signed: bool
) -> Callable[[float], float]:
    """Draw the lines of a scale at full steps of the shop's unit, and give the height of a length on it."""
    unit = 1.0 if style is LengthStyle.MM else 25.4
    span = max((high - low) / unit, 0.01)
    power = 10.0 ** math.floor(math.log10(span / 5))
    step = next(factor * power for factor in (1, 2, 5, 10, 20) if span / (factor * power) <= tall / 42)
    first = math.floor(low / unit / step - 0.15) if signed else 0
    last = math.ceil(high / unit / step + 0.15)

    def at(value: float) -> float:
        return top + tall * (last - value / unit / step) / (last - first)

    for k in range(first, last + 1):
        y, size = at(k * step * unit), format_small(abs(k) * step * unit, style, with_unit=False)
        on.line((LEFT, y), (right, y), class_="grid", stroke_opacity=0.35)
        sign = ("+" if k > 0 else "\u2212" if k < 0 else "") if signed else ""
        on.text((LEFT - 0.5 * on.text_height, y + 0.33 * on.text_height), f"{sign}{size}", anchor="end")
    return at


def _points(on: Drawing, placed: Sequence[Point]) -> None:
    if len(placed) > 1:
        on.outline(placed, pen="medium", closed=False)
    for x, y in placed:
        on.add("circle", cx=x, cy=y, r=3.6, fill=on.ink, stroke="none")


def _rings(on: Drawing, placed: Sequence[Point]) -> None:
    for x, y in placed:
        on.add("circle", cx=x, cy=y, r=_RING, stroke_width=on.pens.thick)


def _write_marks(on: Drawing, placed: Sequence[tuple[float, float, str]]) -> None:
    """Write above the frame what each ring means, with a line down to it; where they crowd the table says the rest."""
    free = 0.0
    for x, y, words in placed:
        half = on.text_width(words) / 2 + 0.15 * on.text_height
        if x - half >= free:
            on.line((x, GAP - 0.1 * on.text_height), (x, y - _RING))
            on.text((x, GAP - 0.25 * on.text_height), words, anchor="middle", bold=True)
            free = x + half


def _write_names(on: Drawing, names: Sequence[str], x: Callable[[int], float], y: float) -> None:
    """Name as many as there is room for, the first and the last among them."""
    widest = max(on.text_width(name) for name in names) + on.text_height
    step = max(math.ceil(widest * (len(names) - 1) / max(x(len(names) - 1) - x(0), 1.0)), 1) if len(names) > 1 else 1
    for place in range(0, len(names), step):
        on.line((x(place), y + 2), (x(place), y + 0.4 * on.text_height), pen="medium")
        on.text((x(place), y + 1.5 * on.text_height), names[place], anchor="middle")
