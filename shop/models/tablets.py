"""Tablets that the owner has enrolled: the only devices on which a PIN opens anything."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime, timedelta

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from shop.models.people import User


class Tablet(models.Model):
    """A device on which people sign in by name and PIN.

    It holds a long random secret in a cookie; here is only the hash of it. The secret is too long to be guessed, so a
    plain hash is enough, and it is found by an index rather than compared.
    """

    name = models.CharField("what the tablet is called", max_length=40)
    secret = models.CharField(max_length=64, unique=True, editable=False)
    idle_minutes = models.PositiveSmallIntegerField(
        "minutes until it asks again who works at it",
        default=10,
        validators=[MinValueValidator(1), MaxValueValidator(720)],
        help_text="Counted from the last press or page.",
    )
    enrolled_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", editable=False)
    enrolled_at = models.DateTimeField(editable=False)
    seen_at = models.DateTimeField(null=True, editable=False)
    revoked_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+", editable=False)
    revoked_at = models.DateTimeField(null=True, editable=False)

    SEEN_EVERY = timedelta(minutes=5)  # no write to the database for every page

    class Meta:
        ordering = ("revoked_at", "name")
        constraints = [
            models.UniqueConstraint(fields=["name"], condition=models.Q(revoked_at=None), name="tablets_differ_in_name")
        ]

    def __str__(self) -> str:
        return self.name

    def take_secret(self) -> str:
        """Make a new secret, which is told once, and keep its hash."""
        secret = secrets.token_urlsafe(32)
        self.secret = hash_of(secret)
        return secret

    @classmethod
    def with_secret(cls, secret: str) -> Tablet | None:
        """Find the enrolled tablet that holds a secret."""
        return cls.objects.filter(secret=hash_of(secret), revoked_at=None).first() if secret else None

    def seen(self, now: datetime) -> None:
        """Note that it is in use."""
        if self.seen_at is None or not timedelta() <= now - self.seen_at < self.SEEN_EVERY:
            self.seen_at = now
            self.save(update_fields=["seen_at"])


def hash_of(secret: str) -> str:
    """Give what the database keeps of a secret."""
    return hashlib.sha256(secret.encode(errors="replace")).hexdigest()
