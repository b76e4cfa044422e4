"""What has settled since a week ago: by its readings, and by having lain long enough where nobody has read it."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

from boards.models import Blank, Condition
from boards.models.moisture import Point, drift_of, points_of
from boards.settled import Settled, in_state
from shop.models import Shop

SINCE_DAYS: Final = 7
MOST: Final = 100  # blanks that are looked into


def settled_since(shop: Shop, *, today: date) -> tuple[list[Blank], int]:
    """List the blanks that are settled by their readings and were not a week ago; count those that have rested since.

    Both are held against the air as it is by now. Three queries, however many blanks there are.
    """
    then = today - timedelta(days=SINCE_DAYS)
    lying = Blank.objects.in_rack().exclude(condition=Condition.HELD)
    by_now = in_state(lying, Settled.SETTLED, shop=shop, today=today).filter(holds__read_on__gt=then)
    blanks = list(by_now.select_related("species").order_by("number")[:MOST])
    read = points_of(blanks)
    new = [blank for blank in blanks if not _was_settled([point for point in read[blank.pk] if point.on <= then], shop)]
    first, last = (day - timedelta(days=shop.rest_days) for day in (then, today))
    rested = lying.filter(holds=None, species__composite=False, received_on__gt=first, received_on__lte=last)
    return new, rested.count()


def _was_settled(points: list[Point], shop: Shop) -> bool:
    """Tell whether these readings alone would have said so, as `boards.settled.with_state` judges."""
    drift = drift_of(points, shop.settled_days)
    if drift is None or drift > shop.settled_steady:
        return False
    percent = points[-1].percent
    return percent is None or abs(percent - shop.air.emc) <= float(shop.settled_within)
