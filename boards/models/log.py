"""The log of what happened to blanks. It only grows."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models.functions import Length

from boards.models.state import Kind
from shop.stages import STAGES


def as_kept(lengths: dict[str, Decimal]) -> dict[str, str]:
    """Write lengths as the log keeps them: plain decimals, mm."""
    return {name: format(value.normalize(), "f") for name, value in lengths.items()}


class LogQuerySet(models.QuerySet["LogEntry"]):
    """Questions about the log."""

    def with_words(self) -> LogQuerySet:
        """Bring along what `words` speaks of."""
        return self.select_related("by", "build", "pattern", "undoes__build", "undoes__pattern")

    def update(self, **_columns: Any) -> int:
        """Refuse, for many at once as for one."""
        raise TypeError("A log entry is never changed.")

    def delete(self) -> tuple[int, dict[str, int]]:
        """Refuse, for many at once as for one."""
        raise TypeError("A log entry is never deleted.")


class LogEntry(models.Model):
    """One thing that happened to one blank."""

    blank = models.ForeignKey("boards.Blank", on_delete=models.PROTECT, related_name="log")
    number = models.PositiveIntegerField(help_text="Its place in the blank's log.")
    at = models.DateTimeField()
    pressed_at = models.DateTimeField(
        null=True, blank=True, help_text="When the button was pressed, where that waited for the network."
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=10, choices=Kind)
    stage = models.CharField(max_length=20, blank=True)
    from_stage = models.CharField("it waited for", max_length=20, blank=True)
    to_stage = models.CharField("it waits for", max_length=20, blank=True)
    build = models.ForeignKey("shop.Build", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    pattern = models.ForeignKey("shop.Pattern", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    stages = models.JSONField(null=True, blank=True)
    readings = models.JSONField(default=dict, blank=True)
    aims = models.JSONField(default=dict, blank=True, help_text="What each reading should have come to; mm.")
    made = models.JSONField(default=dict, blank=True, help_text="What a stage made, by the spec of that day; mm.")
    reason = models.TextField(max_length=2000, blank=True)
    device = models.CharField(max_length=200, blank=True)
    request_id = models.UUIDField(null=True, blank=True)
    undoes = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="undone_by")

    objects = LogQuerySet.as_manager()

    class Meta:
        ordering = ["blank", "number"]
        verbose_name_plural = "log entries"
        constraints = [
            models.UniqueConstraint(fields=["blank", "number"], name="one_entry_at_a_time"),
        ]
        indexes = [
            models.Index(fields=["kind", "at"], name="log_by_kind_and_time"),
            models.Index(fields=["at", "id"], name="log_by_time"),
            models.Index(fields=["kind", "stage", "at"], name="log_by_bench"),
            models.Index(fields=["kind", "to_stage", "at"], name="log_by_what_is_next"),
            models.Index(Length("reason"), name="log_by_length_of_reason"),
        ]

    def __str__(self) -> str:
        return self.words

    @property
    def happened_at(self) -> datetime:
        """When the hand was at the board, whenever the word of it arrived."""
        return self.pressed_at or self.at

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write a new entry; refuse to rewrite an old one."""
        if self.pk is not None:
            raise TypeError("A log entry is never changed.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> None:
        """Refuse: what happened stays."""
        raise TypeError("A log entry is never deleted.")

    @property
    def words(self) -> str:
        """Say what happened."""
        stage = STAGES.get(self.stage)
        match self.kind:
            case Kind.FINISHED if stage:
                return stage.done.capitalize()
            case Kind.REWORKED if stage:
                return f"Sent back to {stage.label.lower()}"
            case Kind.ASSIGNED:
                return f"Put to {self.build or self.pattern or 'a spec'}"
            case Kind.UNDONE if self.undoes:
                return f"Taken back: {self.undoes.words[:1].lower()}{self.undoes.words[1:]}"
            case _:
                return self.get_kind_display().capitalize()
