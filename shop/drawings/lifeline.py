"""The life of a build on one line of days: the build, each board that was put to it, and how its forecast moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.safestring import SafeString

from shop.drawings.dateline import STEPS
from shop.drawings.svg import Drawing

WIDE, NAMES, EDGE = 1180.0, 128.0, 26.0  # px: the whole, the column of names, what is left at the right
HEAD, LANE, THIN = 44.0, 56.0, 22.0  # px: the scale of days, a lane, a lane of one forecast
TOGETHER = 24.0  # px: marks that are closer bear one label


@dataclass(slots=True)
class Lane:
    """One thing on the line: from when to when, while it was held, and marks with the numbers of what happened."""

    name: str
    start: date
    end: date
    held: list[tuple[date, date]] = field(default_factory=list)
    marks: list[tuple[date, int]] = field(default_factory=list)
    broken: bool = False  # it was scrapped, or the build was cancelled


@dataclass(frozen=True, slots=True)
class Told:
    """A forecast: on which day it was made, and the day that it gave."""

    made: date
    day: date


@dataclass(frozen=True, slots=True)
class Life:
    """All that is drawn; ``promised`` are the days that were promised, the last one holds."""

    lanes: Sequence[Lane]
    told: Sequence[Told]
    promised: Sequence[date]
    today: date

    @property
    def first(self) -> date:
        """The day on which the line begins."""
        return min(lane.start for lane in self.lanes)

    @property
    def last(self) -> date:
        """The last day on it."""
        days = [*(lane.end for lane in self.lanes), *(told.day for told in self.told), *self.promised]
        return max(*days, self.first + timedelta(days=7))


def draw_life(life: Life, title: str, *, say: str) -> SafeString:
    """Draw it; `say` is what a screen reader says in its place."""
    rows = len(life.lanes) * LANE + (len(life.told) * THIN + 18 if life.told else 0)
    on = Drawing(title, say, (0, 0, WIDE, HEAD + rows + 12), width=WIDE)
    bottom = HEAD + rows + 6
    _scale(on, life, bottom)
    for at, lane in enumerate(life.lanes):
        _lane(on, life, lane, HEAD + at * LANE + LANE * 0.62, flags=at == 0)
    if life.told:
        top = HEAD + len(life.lanes) * LANE + 10
        on.text((0, top + THIN * 0.7), "Forecast", bold=True)
        for at, told in enumerate(life.told):
            _told(on, life, told, top + at * THIN + THIN * 0.5)
    return on.svg()


def _x(life: Life, day: date) -> float:
    span = (life.last - life.first).days
    return NAMES + (WIDE - NAMES - EDGE) * (day - life.first).days / span


def _scale(on: Drawing, life: Life, bottom: float) -> None:
    span = (life.last - life.first).days
    step = next((step for step in STEPS if span / step <= 9), STEPS[-1])
    on.line((NAMES, HEAD - 10), (WIDE - EDGE, HEAD - 10))
    shape = "j M" if life.first.year == life.last.year else "j M y"
    for days in range(0, span + 1, step):
        day = life.first + timedelta(days=days)
        x = _x(life, day)
        on.line((x, HEAD - 16), (x, HEAD - 10), pen="medium")
        on.text((x, HEAD - 22), date_format(day, shape), anchor="middle" if days else "start")
    if life.first <= life.today <= life.last:
        x = _x(life, life.today)
        on.line((x, HEAD - 10), (x, bottom), **on.dashes(0.5, 0.4))
        on.cleared((x, bottom + 4), "today", anchor="end" if x > WIDE - 60 else "middle")


def _lane(on: Drawing, life: Life, lane: Lane, y: float, *, flags: bool) -> None:
    on.text((0, y + 6), lane.name, bold=True)
    start, end = _x(life, lane.start), _x(life, lane.end)
    on.line((start, y), (max(end, start + 2), y), pen="thick")
    on.line((start, y - 7), (start, y + 7), pen="medium")
    for since, until in lane.held:
        left, right = _x(life, since), max(_x(life, until), _x(life, since) + 6)
        corners = [(left, y - 8), (right, y - 8), (right, y + 8), (left, y + 8)]
        on.outline(corners, class_="wood", fill=on.ground)
        on.hatch(corners, every=6)
    if lane.broken:
        for shift in (-4, 2):
            on.line((end + shift - 3, y + 9), (end + shift + 3, y - 9), pen="medium")
    if flags:
        for at, day in enumerate(life.promised):
            _flag(on, _x(life, day), y, holds=at == len(life.promised) - 1)
    _marks(on, [(_x(life, day), number) for day, number in lane.marks], y)


def _flag(on: Drawing, x: float, y: float, *, holds: bool) -> None:
    # One that was promised before is an empty flag.
    on.line((x, y - 30), (x, y + 9), pen="medium" if holds else "thin")
    on.outline([(x, y - 30), (x - 13, y - 24), (x, y - 18)], pen="thin", fill=on.ink if holds else "none")


def _marks(on: Drawing, marks: Sequence[tuple[float, int]], y: float) -> None:
    """Draw a stroke for each, and the numbers above; where they are close, the first and the last."""
    groups: list[list[tuple[float, int]]] = []
    for x, number in sorted(marks):
        on.line((x, y - 8), (x, y + 8), pen="medium")
        if groups and x - groups[-1][-1][0] < TOGETHER:
            groups[-1].append((x, number))
        else:
            groups.append([(x, number)])
    for group in groups:
        numbers = sorted(number for _, number in group)
        words = _in_short(numbers)
        on.cleared(((group[0][0] + group[-1][0]) / 2, y - 13), words, anchor="middle")


def _in_short(numbers: Sequence[int]) -> str:
    if len(numbers) > 2 and numbers[-1] - numbers[0] == len(numbers) - 1:
        return f"{numbers[0]}–{numbers[-1]}"
    return ", ".join(map(str, numbers)) if len(numbers) < 4 else f"{numbers[0]} … {numbers[-1]}"


def _told(on: Drawing, life: Life, told: Told, y: float) -> None:
    made, day = _x(life, max(told.made, life.first)), _x(life, told.day)
    on.add("circle", cx=made, cy=y, r=3.5, fill=on.ink, stroke="none")
    on.line((made, y), (day, y))
    on.line((day, y - 7), (day, y + 7), pen="thick")
    words = date_format(told.day, "j M")
    room = day + 8 + on.text_width(words) < WIDE
    if room:
        on.cleared((day + 8, y + 5.5), words)
    else:
        on.cleared((min(made, day) - 8, y + 5.5), words, anchor="end")
