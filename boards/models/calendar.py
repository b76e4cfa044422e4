"""The shop's dates as a calendar: behind which address they lie, and when each of them last changed."""

from __future__ import annotations

import base64
import secrets
import uuid
from datetime import datetime

from django.db import models
from django.utils.crypto import constant_time_compare, salted_hmac

from shop.models import Changed


class Calendar(models.Model):
    """The one row that says whether the shop's dates may be read from outside, and at which address.

    The address is reckoned from a seed and the shop's secret key, so that a copy of the database alone does not give it
    away. An empty seed: there is no address.
    """

    seed = models.CharField(max_length=64, blank=True, default="")
    known_as = models.UUIDField(default=uuid.uuid4)  # the root of all UIDs, which outlive a change of address
    changed_at = models.DateTimeField(null=True)
    forecast_on = models.DateField(null=True)
    version = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="there_is_one_calendar")]

    def __str__(self) -> str:
        return "the calendar"

    @classmethod
    def current(cls) -> Calendar:
        """Fetch it, made without an address the first time."""
        return cls.objects.get_or_create(pk=1)[0]

    @property
    def secret(self) -> str:
        """The part of the address that nobody can guess: 256 bits; empty where there is no address."""
        if not self.seed:
            return ""
        digest = salted_hmac("camberbook.calendar", self.seed, algorithm="sha256").digest()
        return base64.urlsafe_b64encode(digest).decode().rstrip("=")

    def opens_with(self, secret: str) -> bool:
        """Tell whether this is the address, in the same time whatever is wrong with it."""
        return constant_time_compare(self.secret, secret) and bool(self.seed)

    def change_address(self, seen: int, at: datetime) -> None:
        """Take a new address; the old one leads nowhere from now on."""
        self._take(seen, secrets.token_hex(32), at)

    def close(self, seen: int, at: datetime) -> None:
        """Have no address any more."""
        self._take(seen, "", at)

    def _take(self, seen: int, seed: str, at: datetime) -> None:
        columns = {"seed": seed, "changed_at": at, "version": seen + 1}
        if not Calendar.objects.filter(pk=self.pk, version=seen).update(**columns):
            raise Changed("Somebody has changed the calendar's address since you saw it.", self)
        for name, value in columns.items():
            setattr(self, name, value)


class CalendarEntry(models.Model):
    """What a calendar was last told of one date: a later telling counts up, an equal one says nothing new."""

    uid = models.UUIDField(primary_key=True)
    digest = models.CharField(max_length=64)
    sequence = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()

    def __str__(self) -> str:
        return str(self.uid)
