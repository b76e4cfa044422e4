"""Tries to sign in, counted so that guessing takes years."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import models, transaction
from django.utils.crypto import salted_hmac


@dataclass(frozen=True, slots=True)
class Limit:
    """How many wrong tries cost nothing, and from which number on nothing is taken any more until it is cleared."""

    kind: str
    free: int
    most: int | None = None


# A few slips cost nothing. Then the wait doubles from one minute to an hour, and each day begins anew: of passwords
# that is some 35 a day. Of the 10 000 PINs of four digits a thief of a tablet tries 15, and then it opens nothing.
ACCOUNT = Limit("account", 5)
ADDRESS = Limit("address", 20)
PIN = Limit("pin", 5, most=15)
TABLET = Limit("tablet", 10)


class Tries(models.Model):
    """How often something was tried in vain: an account, an address, a PIN, a tablet.

    The key is hashed with the shop's secret key: what was typed may have been a password in the wrong box.
    """

    key = models.CharField(max_length=64, primary_key=True)
    count = models.PositiveIntegerField(default=0)
    since = models.DateTimeField()
    last_at = models.DateTimeField(db_index=True)

    KEPT = timedelta(days=30)
    FORGOTTEN_AFTER = timedelta(days=1)
    FIRST_WAIT, LONGEST_WAIT = timedelta(minutes=1), timedelta(hours=1)

    class Meta:
        verbose_name_plural = "tries"

    def __str__(self) -> str:
        return f"{self.count} tries, the last at {self.last_at:%Y-%m-%d %H:%M}"

    @classmethod
    def wait_after(cls, count: int, limit: Limit) -> timedelta:
        """Say how long nothing is taken after so many tries in vain."""
        over = count - limit.free
        return timedelta() if over < 0 else min(cls.FIRST_WAIT * 2 ** min(over, 20), cls.LONGEST_WAIT)


@dataclass(frozen=True, slots=True)
class Shut:
    """Why nothing is taken now: for so long, or (`wait` None) until somebody clears it."""

    wait: timedelta | None


Counted = tuple[Limit, str]


def key_of(limit: Limit, what: str) -> str:
    """Give the key under which something is counted."""
    return salted_hmac(f"camberbook.tries.{limit.kind}", what, algorithm="sha256").hexdigest()


@transaction.atomic
def begin_try(counted: Iterable[Counted], now: datetime) -> Shut | None:
    """Count a try before anything is checked, or say for how long none is taken.

    Counting first means that a hundred at the same moment are no better than one after another.
    """
    keys = {key_of(limit, what): limit for limit, what in counted}
    Tries.objects.filter(last_at__lt=now - Tries.KEPT).delete()
    for key in sorted(keys):
        Tries.objects.get_or_create(key=key, defaults={"since": now, "last_at": now})
    rows = list(Tries.objects.select_for_update().filter(key__in=keys).order_by("key"))
    longest = timedelta()
    for row in rows:
        limit = keys[row.key]
        if limit.most is not None and row.count >= limit.most:
            return Shut(None)
        # Where the clock was set back, nobody waits longer than the wait itself.
        row.since, row.last_at = min(row.since, now), min(row.last_at, now)
        if limit.most is None and now - row.since >= Tries.FORGOTTEN_AFTER:
            row.count, row.since = 0, now
        row.save(update_fields=["count", "since", "last_at"])
        longest = max(longest, row.last_at + Tries.wait_after(row.count, limit) - now)
    if longest > timedelta():
        return Shut(longest)
    for row in rows:
        row.count, row.last_at = row.count + 1, now
        row.save(update_fields=["count", "last_at"])
    return None


@transaction.atomic
def end_try(*, clear: Iterable[Counted] = (), give_back: Iterable[Counted] = ()) -> None:
    """Take account of a try that was right: what is its own starts anew, what others share gets this one back."""
    Tries.objects.filter(key__in=[key_of(limit, what) for limit, what in clear]).delete()
    shared = [key_of(limit, what) for limit, what in give_back]
    Tries.objects.filter(key__in=shared, count__gt=0).update(count=models.F("count") - 1)
