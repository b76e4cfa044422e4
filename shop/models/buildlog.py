"""What happened to builds, and what was noted about them. It only grows."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

from django.conf import settings
from django.db import models
from django.utils.formats import date_format


class BuildKind(models.TextChoices):
    """What can happen to a build."""

    WRITTEN = "written", "written down"
    CHANGED = "changed", "changed"
    NOTED = "noted", "note"
    HELD = "held", "held"
    RELEASED = "released", "goes on"
    DELIVERED = "delivered", "delivered"
    CANCELLED = "cancelled", "cancelled"
    REOPENED = "reopened", "open again"


class BuildEntryQuerySet(models.QuerySet["BuildEntry"]):
    """Questions about what happened to builds."""

    def update(self, **_columns: Any) -> int:
        """Refuse, for many at once as for one."""
        raise TypeError("An entry is never changed.")

    def delete(self) -> tuple[int, dict[str, int]]:
        """Refuse, for many at once as for one."""
        raise TypeError("An entry is never deleted.")


class BuildEntry(models.Model):
    """One thing that happened to one build, or one note about it."""

    build = models.ForeignKey("shop.Build", on_delete=models.PROTECT, related_name="entries")
    kind = models.CharField(max_length=10, choices=BuildKind)
    at = models.DateTimeField()
    pressed_at = models.DateTimeField(
        null=True, blank=True, help_text="When the button was pressed, where that waited for the network."
    )
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    text = models.TextField(max_length=2000, blank=True, help_text="The note, or why.")
    day = models.DateField(null=True, blank=True, help_text="The day that was delivered on.")
    changes = models.JSONField(default=dict, blank=True, help_text="What was changed: from what, to what; mm.")
    device = models.CharField(max_length=200, blank=True)
    request_id = models.UUIDField(null=True, blank=True)

    objects = BuildEntryQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        verbose_name = "entry about a build"
        verbose_name_plural = "entries about builds"
        indexes = [models.Index(fields=["build", "at"], name="build_entry_by_time")]

    def __str__(self) -> str:
        return self.words

    @property
    def happened_at(self) -> datetime:
        """When the hand was at it, whenever the word of it arrived."""
        return self.pressed_at or self.at

    @property
    def words(self) -> str:
        """Say what happened."""
        if self.kind == BuildKind.DELIVERED and self.day:
            return f"Delivered on {date_format(self.day)}"
        return self.get_kind_display().capitalize()

    @property
    def due(self) -> tuple[date | None, date | None] | None:
        """The day promised before and after, where that was changed."""
        if "due_on" not in self.changes:
            return None
        before, after = (date.fromisoformat(day) if day else None for day in self.changes["due_on"])
        return before, after

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Write a new entry; refuse to rewrite an old one."""
        if self.pk is not None:
            raise TypeError("An entry is never changed.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> None:
        """Refuse: what happened stays."""
        raise TypeError("An entry is never deleted.")
