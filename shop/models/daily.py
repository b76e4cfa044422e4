"""What the shop's machine does once a day by itself, and how that went."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import models
from django.db.models import Q
from django.utils import timezone


class DailyJob(models.Model):
    """One job that is done once a day: when it was done last, and what stood in its way if it was not.

    The row is what two processes agree by: whoever gets its turn written does the job, the other leaves it.
    """

    name = models.CharField(max_length=40, primary_key=True)
    done_on = models.DateField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    running_since = models.DateTimeField(null=True, blank=True)
    asked_at = models.DateTimeField(null=True, blank=True, help_text="When somebody asked for it besides.")
    failed_at = models.DateTimeField(null=True, blank=True)
    trouble = models.CharField(max_length=300, blank=True, help_text="Why it was not done the last time, in words.")

    # What failed, or was broken off because the machine was switched off, is tried again after this.
    AGAIN_AFTER = timedelta(hours=1)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def take_turn(cls, name: str, now: datetime, *, at_once: bool = False) -> DailyJob | None:
        """Take a job's turn, if it is due and nobody else has it; `at_once` waits for no other day.

        A clock that was set back leaves times in the future: they hold nothing up.
        """
        cls.objects.get_or_create(name=name)
        free, rested = (
            Q(**{time: None}) | Q(**{f"{time}__lte": now - cls.AGAIN_AFTER}) | Q(**{f"{time}__gt": now})
            for time in ("running_since", "failed_at")
        )
        not_today = Q(done_on=None) | ~Q(done_on=timezone.localdate(now))
        wanted = Q() if at_once else Q(asked_at__isnull=False) | (not_today & rested)
        if not cls.objects.filter(free, wanted, name=name).update(running_since=now, asked_at=None):
            return None
        return cls.objects.get(name=name)

    def went_well(self, now: datetime) -> None:
        """Say that it is done."""
        self.done_on, self.done_at = timezone.localdate(now), now
        self.running_since, self.failed_at, self.trouble = None, None, ""
        self.save(update_fields=["done_on", "done_at", "running_since", "failed_at", "trouble"])

    def failed(self, now: datetime, words: str) -> None:
        """Say why it is not done."""
        self.running_since, self.failed_at, self.trouble = None, now, words[:300]
        self.save(update_fields=["running_since", "failed_at", "trouble"])

    @classmethod
    def ask_for(cls, name: str, now: datetime) -> None:
        """Have a job done as soon as may be, whether or not it was done today."""
        cls.objects.get_or_create(name=name)
        cls.objects.filter(name=name).update(asked_at=now)

    def is_wanted(self, now: datetime) -> bool:
        """Tell whether it is being done, as far as can be told, or about to be."""
        running = self.running_since is not None and timedelta() <= now - self.running_since < self.AGAIN_AFTER
        return running or self.asked_at is not None
