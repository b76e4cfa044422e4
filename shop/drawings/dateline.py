"""A line of dates: from when a build may be done to when it is nearly sure to be, and the day that was promised."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.safestring import SafeString

from shop.drawings.svg import Drawing

WIDE, TALL, EDGE = 420.0, 34.0, 10.0  # px
STEPS = (1, 7, 14, 28, 56, 91, 182, 365)  # days between marks


def span_of(today: date, days: Sequence[date | None]) -> int:
    """Choose how many days a line has to reach, so that all of some dates are on it."""
    last = max((day for day in days if day), default=today)
    return max((last - today).days + 1, 14)


def _x(day: date, today: date, span: int) -> float:
    return EDGE + (WIDE - 2 * EDGE) * min(max((day - today).days, 0), span) / span


def draw_scale(today: date, span: int) -> SafeString:
    """Draw the marks above a column of lines: today, and every so many days."""
    step = next((step for step in STEPS if span / step <= 5), STEPS[-1])
    on = Drawing("Dates", f"From {date_format(today)} over {span} days.", (0, 0, WIDE, TALL), width=WIDE)
    for days in range(0, span + 1, step):
        x = _x(today + timedelta(days=days), today, span)
        on.line((x, TALL - 8), (x, TALL), pen="medium")
        words = "today" if not days else date_format(today + timedelta(days=days), "j M")
        anchor = "start" if not days else "end" if x > WIDE - 40 else "middle"
        on.text((x if days else 0, TALL - 14), words, anchor=anchor)
    return on.svg()


def draw_dateline(
    today: date, span: int, *, early: date | None, half: date | None, most: date | None, due: date | None
) -> SafeString:
    """Draw one build: a thin line to where it may be done, a bar from there to where it nearly always is.

    Parameters
    ----------
    today : date
        Where the line begins.
    span : int
        Days that it reaches.
    early, half, most : date, optional
        By when few, half and most of the runs came out.
    due : date, optional
        The day that was promised, drawn as a flag; left of today it stands at the edge.
    """
    words = [f"Half of the runs by {date_format(half)}, most by {date_format(most)}." if half and most else "No date."]
    if due:
        words.append(f"Promised for {date_format(due)}.")
    on = Drawing("When it will be done", " ".join(words), (0, 0, WIDE, TALL), width=WIDE)
    middle = TALL * 0.62
    on.line((EDGE, middle), (WIDE - EDGE, middle), stroke_opacity=0.35)
    if early and half and most:
        first, mid, last = (_x(day, today, span) for day in (early, half, most))
        on.line((EDGE, middle), (first, middle), pen="medium")
        corners = [(first, middle - 5), (last + 1, middle - 5), (last + 1, middle + 5), (first, middle + 5)]
        on.outline(corners, class_="wood", fill=on.ground)
        on.line((mid, middle - 8), (mid, middle + 8), pen="thick")
    if due:
        x = _x(due, today, span)
        on.line((x, 2), (x, middle + 9), pen="medium")
        on.outline([(x, 2), (x - 9, 6), (x, 10)], fill=on.ink)
    return on.svg()
