"""The chart of one blank: what was read of it, what the shop's air leads to, and the curve that is expected."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.safestring import SafeString

from boards.drying import Expected
from boards.models.moisture import Point
from boards.settled import Settledness
from shop.drawings.chart import Band, Line, Panel, draw_chart
from shop.models import Shop

_CURVE = 41  # places at which the curve is worked out
AHEAD = timedelta(days=21)


def draw_moisture(points: list[Point], known: Settledness, expected: Expected | None, shop: Shop) -> SafeString | str:
    """Draw the readings of a blank against the shop's band; nothing where no moisture is known."""
    told = [point for point in points if point.percent is not None]
    if not told:
        return ""
    begins = told[0].at
    now = max(timezone.make_aware(datetime.combine(known.today, time(12))), told[-1].at)
    ends = now + AHEAD / 3
    curve = expected if expected is not None and not expected.why else None
    if curve is not None:
        ends = max(ends, timezone.make_aware(datetime.combine(curve.latest, time(12))) + AHEAD / 3)

    def day(at: datetime) -> float:
        return (at - begins).total_seconds() / 86400

    days = max(day(ends), 14.0)
    low, high = shop.band
    across = (0.0, days)
    shop_band = Band(
        [(x, low) for x in across],
        [(x, high) for x in across],
        f"shop's band, {shop.humidity_low} to {shop.humidity_high} % humidity",
    )
    lines = [Line([(x, known.emc) for x in across], f"the air makes {known.emc:.1f} %", dashed=True)]
    bands = [shop_band]
    if curve is not None:
        start = day(curve.points[0].at)
        ahead = [start + (days - start) * k / (_CURVE - 1) for k in range(_CURVE)]
        middle, least, most = curve.drying.course([x - start for x in ahead]).tolist()
        pairs = [list(zip(ahead, figures, strict=True)) for figures in (least, most)]
        bands.append(Band(*pairs, "9 times of 10", filled=False))
        lines.append(Line(list(zip(ahead, middle, strict=True)), "expected", dashed=True))
    readings = [(day(point.at), point.percent) for point in told]
    lines.append(Line(readings, f"reads {told[-1].percent:.1f} %", dots=True))
    read = "; ".join(f"{date_format(point.on)} {point.percent:.1f} %" for point in told[-30:])
    return draw_chart(
        [Panel("Moisture, %", lines, bands)],
        timezone.localdate(begins),
        days,
        title="Moisture of the blank, day by day",
        desc=f"Read: {read}. {known.words} {expected.words if expected else ''}",
        today=day(now),
    )
