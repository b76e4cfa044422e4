"""Batches of travellers that are printed in the background: how far one has come stands here, not in a process."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

from django.conf import settings
from django.db import models
from django.db.models import F


class Batch(models.Model):
    """Travellers of many boards, printed by a process of its own."""

    class State(models.TextChoices):
        """Where it stands."""

        PRINTING = "printing", "being printed"
        DONE = "done", "printed"
        CANCELLED = "cancelled", "cancelled"
        FAILED = "failed", "broken off"

    SILENT = timedelta(seconds=90)  # after which whoever printed it is gone
    KEPT = timedelta(days=2)

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    title = models.CharField(max_length=120)
    filename = models.CharField(max_length=80)
    numbers = models.JSONField()
    address = models.CharField(max_length=300, help_text="Where codes lead to.")
    state = models.CharField(max_length=10, choices=State, default=State.PRINTING)
    printed = models.PositiveIntegerField(default=0)
    why = models.CharField(max_length=300, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    beat_at = models.DateTimeField(help_text="When whoever prints it was last heard of.")

    class Meta:
        ordering = ["-at"]
        verbose_name_plural = "batches"

    def __str__(self) -> str:
        return self.title

    @property
    def total(self) -> int:
        """How many boards it is for."""
        return len(self.numbers)

    def is_lost(self, now: datetime) -> bool:
        """Tell whether whoever printed it is gone: stopped with the machine, or killed."""
        return self.state == self.State.PRINTING and now - self.beat_at > self.SILENT

    def goes_on(self, now: datetime, *, printed: int = 0) -> bool:
        """Note that it goes on, with so many more printed; False once somebody has cancelled it."""
        going = Batch.objects.filter(pk=self.pk, state=self.State.PRINTING)
        return bool(going.update(beat_at=now, printed=F("printed") + printed))

    def end(self, state: str, why: str = "") -> bool:
        """Bring it to an end, unless it has come to one already."""
        going = Batch.objects.filter(pk=self.pk, state=self.State.PRINTING)
        return bool(going.update(state=state, why=why[:300]))

    @classmethod
    def old(cls, now: datetime) -> models.QuerySet[Batch]:
        """Find those whose files are dropped by now."""
        return cls.objects.filter(at__lt=now - cls.KEPT)
