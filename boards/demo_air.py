"""The air of the demo's shop, as its logger wrote it, and what was read of its blanks in it. All of it is made up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, time, timedelta
from decimal import Decimal
from random import Random
from typing import Protocol

from django.utils import timezone

from boards.models import Blank
from boards.models.moisture import MoistureReading, Way, note_readings, take_back
from shop.models import Hand, Shop
from shop.models.air import AirFile, AirReading

WEEKS = 10
HOURS = 6  # from one reading of the logger to the next


class Days(Protocol):
    """What is needed of the demo's diary."""

    now: datetime
    random: Random
    shop: Shop

    def hand(self, ago: int, who: int | None = None) -> Hand:
        """Give a hand at work so many days ago."""


def fill_air(diary: Days) -> None:
    """Write down some weeks of the shop's air: damper towards autumn, held in the band but for a few days."""
    hand = diary.hand(0, who=1)
    file = AirFile.objects.create(name="bench-room.csv", text="", by=hand.by, at=hand.at, taken=0)
    begins = timezone.make_aware(datetime.combine(timezone.localdate(diary.now) - timedelta(days=7 * WEEKS), time(0)))
    readings, wander = [], 0.0
    for place in range(WEEKS * 7 * 24 // HOURS):
        at = begins + timedelta(hours=place * HOURS)
        wander = 0.93 * wander + diary.random.gauss(0, 0.55)
        damp_spell = 7.0 * math.exp(-(((place / 4 - 31) / 2.5) ** 2))  # a week of rain, with the doors open
        humidity = 44.0 + wander + damp_spell + 1.5 * math.sin(at.hour / 24 * 2 * math.pi)
        temperature = 20.0 + 0.8 * math.sin((at.hour - 9) / 24 * 2 * math.pi) + diary.random.gauss(0, 0.25)
        readings.append(
            AirReading(
                at=at,
                day=timezone.localdate(at),
                temperature=round(temperature, 1),
                humidity=round(humidity, 1),
                file=file,
                by=hand.by,
                written_at=hand.at,
            )
        )
    AirReading.objects.bulk_create(readings)
    file.forget_text(len(readings))


def read_blanks(diary: Days, boxes: Sequence[list[Blank]]) -> None:
    """Read some of the blanks, so that each way of standing is there."""
    _, rosewood, maple, wenge, walnut, _, pau_ferro = boxes
    # On their way: the box that came in last.
    _by_meter(diary, pau_ferro[0], (9, "10.7"), (6, "10.3"), (1, "9.8"))
    _by_meter(diary, pau_ferro[1], (9, "10.8"), (5, "10.3"), (1, "9.7"))
    _by_meter(diary, pau_ferro[2], (1, "10.1"))
    # Settled, and nearly so.
    _by_meter(diary, walnut[1], (30, "8.9"), (14, "8.7"), (3, "8.6"))
    _by_meter(diary, rosewood[4], (24, "8.8"), (10, "8.6"), (2, "8.7"))
    _by_meter(diary, wenge[1], (20, "9.9"), (2, "9.1"))
    # By weight: once with the meter beside it, then the scales alone.
    _note(diary, walnut[2], 34, way=Way.METER, percent=Decimal("9.3"), grams=Decimal("196.4"))
    _note(diary, walnut[2], 15, way=Way.WEIGHT, grams=Decimal("195.6"))
    _note(diary, walnut[2], 4, way=Way.WEIGHT, grams=Decimal("195.4"))
    # A slip, taken back.
    _note(diary, maple[6], 6, way=Way.METER, percent=Decimal("18.4"))
    slip = MoistureReading.objects.get(blank=maple[6])
    take_back(diary.hand(6), diary.shop, slip)
    _note(diary, maple[6], 5, way=Way.METER, percent=Decimal("8.4"))


def _by_meter(diary: Days, blank: Blank, *read: tuple[int, str]) -> None:
    for ago, percent in read:
        _note(diary, blank, ago, way=Way.METER, percent=Decimal(percent))


def _note(diary: Days, blank: Blank, ago: int, **read: object) -> None:
    note_readings(diary.hand(ago), diary.shop, [(blank, read)])
