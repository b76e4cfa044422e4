"""Presses of buttons: each is known by an id, bears a name, and counts once."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.db import IntegrityError, models, transaction

from shop.models.people import User


class Refused(Exception):
    """What a person asked for cannot be done; the message says why, in words for them.

    `about` is the thing it is about, where the answer can show how that is by now.
    """

    def __init__(self, words: str, about: models.Model | None = None) -> None:
        super().__init__(words)
        self.about = about


class Changed(Refused):
    """Somebody else has changed the thing since the person saw it."""


@dataclass(frozen=True, slots=True)
class Hand:
    """Who does something, when, from which device, with which press of a button.

    `pressed_at` is when the button was pressed, where the press had to wait before it could be sent.
    """

    by: User
    at: datetime
    device: str = ""
    request_id: UUID | None = None
    pressed_at: datetime | None = None


class Tap(models.Model):
    """One press of a button, known by the id that its form carried.

    A second delivery of the same press finds this row and gets the first one's answer.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    path = models.CharField(max_length=300)
    body = models.CharField(max_length=64, blank=True, help_text="SHA-256 of what was sent with it.")
    answer = models.CharField(max_length=500)
    at = models.DateTimeField()

    KEPT_DAYS = 60

    @classmethod
    def forget_old(cls, now: datetime) -> int:
        """Drop those that no page can send again by now, and tell how many they were."""
        return cls.objects.filter(at__lt=now - timedelta(days=cls.KEPT_DAYS)).delete()[0]

    def __str__(self) -> str:
        return f"{self.path} {self.at:%Y-%m-%d %H:%M}"


class TapElsewhere(Exception):
    """A request id came back on another page or under another name: a tampered form."""


class TapWithOther(Refused):
    """A request id came back with something else typed; the first delivery stands."""


def once(tap: Tap, act: Callable[[], str]) -> tuple[str, bool]:
    """Do something and remember that it was done, in one transaction.

    Returns the answer (an address to go on to) and whether it was done just now. The unique id decides between two
    deliveries at once, not a look beforehand.
    """
    try:
        with transaction.atomic():
            tap.save(force_insert=True)
            tap.answer = act()
            tap.save(update_fields=["answer"])
            return tap.answer, True
    except IntegrityError:
        earlier = Tap.objects.filter(pk=tap.pk).first()
        if earlier is None:
            raise
        if (earlier.by_id, earlier.path) != (tap.by_id, tap.path):
            raise TapElsewhere from None
        if earlier.body and earlier.body != tap.body:
            raise TapWithOther(
                "This form was sent before and is kept as it was then. What is typed in it now is something else and "
                "is not kept: look at what is there, and change that."
            ) from None
        return earlier.answer, False
