"""Logging what comes in."""

from __future__ import annotations

from datetime import date

from django.db import transaction
from django.utils import timezone

from boards.models.blank import Blank
from boards.models.log import LogEntry
from boards.models.state import Kind
from shop.models import Hand, Series

_COPIED = [
    Blank._meta.get_field(name)
    for name in (
        *("species", "cut", "length", "width", "thickness", "moisture", "received_on"),
        *("supplier", "lot", "cost", "place", "remarks"),
    )
]


def receive_box(*, alike: Blank, how_many: int, hand: Hand) -> list[Blank]:
    """Log a box of blanks that are alike: a number and a log entry for each."""
    copies = ({field.attname: getattr(alike, field.attname) for field in _COPIED} for _ in range(how_many))
    return receive_stock(blanks=[Blank(**values) for values in copies], hand=hand)


def receive_stock(*, blanks: list[Blank], hand: Hand) -> list[Blank]:
    """Log blanks of whatever kind: a log entry for each, and a number for those that bring none of their own."""
    with transaction.atomic():
        nameless = [blank for blank in blanks if not blank.number]
        own = {blank.number for blank in blanks}
        numbers = _free_numbers(len(nameless), timezone.localdate(hand.at), own)
        for blank, number in zip(nameless, numbers, strict=True):
            blank.number = number
        for blank in blanks:
            blank.version, blank.changed_at, blank.changed_by = 1, hand.at, hand.by
        Blank.objects.bulk_create(blanks)
        LogEntry.objects.bulk_create(
            LogEntry(
                blank=blank,
                number=1,
                at=hand.at,
                by=hand.by,
                kind=Kind.RECEIVED,
                device=hand.device[:200],
                request_id=hand.request_id,
            )
            for blank in blanks
        )
    return blanks


def _free_numbers(how_many: int, on: date, own: set[str]) -> list[str]:
    """Take the next numbers that no blank bears, or brings along: the owner may have set the series back."""
    free: list[str] = []
    while len(free) < how_many:
        numbers = Series.take(Series.Kind.BLANK, how_many - len(free), on=on)
        borne = own | set(Blank.objects.filter(number__in=numbers).values_list("number", flat=True))
        free += [number for number in numbers if number not in borne]
    return free
