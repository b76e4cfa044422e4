"""The shop's air from day to day: its humidity, its temperature, and what wood comes to in it, against the band."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Protocol

from django.utils.formats import date_format
from django.utils.safestring import SafeString

from shop.drawings.chart import Band, Line, Panel, Series, draw_chart

_APART = 3  # days without a reading that break a line


class AirOfDay(Protocol):
    """What is drawn of one day."""

    day: date
    temperature: float
    humidity: float
    least: float
    most: float
    emc: float


def draw_air(
    days: Sequence[AirOfDay], *, humidity: tuple[float, float], wood: tuple[float, float], today: date
) -> SafeString | str:
    """Draw days one after the other; ``humidity`` and ``wood`` are the shop's band, for the air and for the wood."""
    if not days:
        return ""
    begins = days[0].day
    span = max((today - begins).days, 7)
    at = [(day.day - begins).days for day in days]

    def lines(figures: Sequence[float], words: str) -> list[Line]:
        parts: list[Series] = [[]]
        for k, point in enumerate(zip(at, figures, strict=True)):
            if k and at[k] - at[k - 1] > _APART:
                parts.append([])
            parts[-1].append(point)
        return [Line(part, words if part is parts[-1] else "", dots=len(part) == 1) for part in parts]

    def band(low: float, high: float, words: str) -> Band:
        return Band([(0, low), (span, low)], [(0, high), (span, high)], words)

    last = days[-1]
    spread = Band(
        list(zip(at, (day.least for day in days), strict=True)),
        list(zip(at, (day.most for day in days), strict=True)),
        "",
        filled=False,
    )
    mean = [day.humidity for day in days]
    panels = [
        Panel(
            "Humidity, %: mean of each day, least and most",
            lines(mean, f"{last.humidity:.0f} %"),
            [band(*humidity, f"shop's band, {humidity[0]:.0f} to {humidity[1]:.0f} %"), spread],
        ),
        Panel("Temperature, °C", lines([day.temperature for day in days], f"{last.temperature:.0f} °C")),
        Panel(
            "Wood comes to, % moisture",
            lines([day.emc for day in days], f"{last.emc:.1f} %"),
            [band(*wood, f"in the shop's band, {wood[0]:.1f} to {wood[1]:.1f} %")],
        ),
    ]
    desc = (
        f"From {date_format(begins)} to {date_format(last.day)}: "
        f"humidity between {min(mean):.0f} and {max(mean):.0f} %. "
        "The table below has each day."
    )
    return draw_chart(panels, begins, span, title="The shop's air, day by day", desc=desc)
