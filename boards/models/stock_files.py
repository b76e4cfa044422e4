"""Files of stock that somebody handed in, kept on this machine from step to step, and which blanks they gave."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import models

from boards.models.blank import Blank


class StockFile(models.Model):
    """A file of stock: what was handed in, how it is read, and, once it is taken in, what became of it.

    Only the person who handed it in gets it back. What nobody took in is dropped after a while; of one that was taken
    in its fingerprint stays, so that it is known again.
    """

    name = models.CharField(max_length=120)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField("handed in")
    content = models.BinaryField(help_text="As it came; empty once it is taken in.")
    fingerprint = models.CharField(max_length=64, db_index=True, help_text="SHA-256 of the content.")
    heads = models.CharField(max_length=64, blank=True, db_index=True, help_text="SHA-256 of the names of its columns.")
    reading = models.JSONField(default=dict, help_text="How it is read: letters, columns, decimals, days, units.")
    woods = models.JSONField(default=dict, help_text="Which of our woods is meant by each of its words.")
    version = models.PositiveIntegerField(default=0)

    taken_at = models.DateTimeField(null=True, blank=True)
    taken = models.PositiveIntegerField(default=0, help_text="Blanks that it gave.")
    skipped = models.PositiveIntegerField(default=0, help_text="Rows that were here already.")
    left_out = models.PositiveIntegerField(default=0, help_text="Rows with something wrong.")
    rows_left_out = models.TextField(blank=True, help_text="Those rows, each with the reason.")

    KEPT_HOURS = 48

    class Meta:
        ordering = ["-at"]

    def __str__(self) -> str:
        return self.name

    @classmethod
    def forget_old(cls, now: datetime) -> int:
        """Drop those that nobody took in, and tell how many they were."""
        return cls.objects.filter(taken_at=None, at__lt=now - timedelta(hours=cls.KEPT_HOURS)).delete()[0]


class StockRow(models.Model):
    """A blank that came in by a file, and which line of it said so."""

    blank = models.OneToOneField(Blank, on_delete=models.PROTECT, related_name="stock_row")
    file = models.ForeignKey(StockFile, on_delete=models.PROTECT, related_name="rows")
    line = models.PositiveIntegerField()
    fingerprint = models.CharField(max_length=32, db_index=True, help_text="Of what the row said.")

    class Meta:
        ordering = ["file", "line"]

    def __str__(self) -> str:
        return f"{self.file}, line {self.line}"
