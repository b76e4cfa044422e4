"""What the demo's shop has gauged: the first board of the year, from above, once it was on its neck."""

from __future__ import annotations

from boards.figures import worked
from boards.gauge_form import GaugeForm
from boards.models import Blank
from shop.models import Hand, Shop

# Place across and height against the middle, mm: a radius of 12 in; at the heel its middle lies 0.5 mm to the treble.
ACROSS = {
    "nut": (("-18", "-0.53"), ("-9", "-0.14"), ("0", "0"), ("9", "-0.13"), ("18", "-0.54")),
    "heel": (("-25", "-1.07"), ("-12", "-0.26"), ("0", "0"), ("12", "-0.22"), ("25", "-0.98")),
}


def gauge(blank: Blank, hand: Hand, shop: Shop) -> None:
    """Gauge a board and keep what was read."""
    typed = {
        f"{station}_{axis}{k}": f"{value} mm"
        for station, points in ACROSS.items()
        for k, point in enumerate(points)
        for axis, value in zip("yz", point, strict=True)
    }
    form = GaugeForm(typed, board=worked(Blank.objects.with_spec().get(pk=blank.pk), shop), count=5, shop=shop)
    assert form.is_valid(), form.errors
    blank.gauge(hand, blank.version, form.words, form.points)
