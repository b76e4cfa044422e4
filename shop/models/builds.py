"""Patterns and builds."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models, transaction
from django.db.models import F, Q
from django.utils import timezone

from shop.models.buildlog import BuildEntry, BuildKind
from shop.models.spec import Spec
from shop.models.taps import Changed, Hand, Refused


class Pattern(Spec):
    """A spec that the shop builds again and again. Builds copy it."""

    name = models.CharField(max_length=80, unique=True)
    remarks = models.TextField(max_length=2000, blank=True)
    boards_a_year = models.PositiveSmallIntegerField(
        "boards a year",
        default=0,
        validators=[MaxValueValidator(9999)],
        help_text="How many of it the shop makes: the buying list reckons with them. 0: only what is ordered.",
    )
    version = models.PositiveIntegerField(default=0)

    class Meta(Spec.Meta):
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    @property
    def short_name(self) -> str:
        """How it is called inside a sentence."""
        return self.name


class BuildQuerySet(models.QuerySet["Build"]):
    """Questions about builds."""

    def open(self) -> BuildQuerySet:
        """Those that are still to be delivered, the earliest due first; without a date last."""
        return self.filter(closed_on=None).order_by(models.F("due_on").asc(nulls_last=True), "number")

    def going(self) -> BuildQuerySet:
        """Those of them that are not held."""
        return self.open().filter(state=BuildState.OPEN)


class NeckJoint(models.TextChoices):
    """How the neck joins the body."""

    GLUED = "glued", "Glued in"
    BOLTED = "bolted", "Bolted on"
    THROUGH = "through", "Neck through"


class BuildState(models.TextChoices):
    """How a build stands. Only the boards of one that is open come up at the benches."""

    OPEN = "open", "open"
    HELD = "held", "held"
    DELIVERED = "delivered", "delivered"
    CANCELLED = "cancelled", "cancelled"


CLOSED = (BuildState.DELIVERED, BuildState.CANCELLED)


class Build(Spec):
    """An instrument on order or for stock; of one with unlike boards, those that are alike.

    `state` and `closed_on` repeat what the entries say; `_write` sets them, in the transaction that writes the entry.
    """

    number = models.CharField(max_length=24, unique=True)
    title = models.CharField("what it is", max_length=80)
    customer = models.CharField("for whom", max_length=80, blank=True, help_text="Leave empty when it is for stock.")
    due_on = models.DateField("due", null=True, blank=True)
    neck_joint = models.CharField("neck", max_length=8, choices=NeckJoint, default=NeckJoint.GLUED)
    boards_wanted = models.PositiveSmallIntegerField(
        "boards alike",
        default=1,
        validators=[MinValueValidator(1), MaxValueValidator(12)],
        help_text="More than one where it has several necks.",
    )
    goes_with = models.ForeignKey(
        "self",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="with_it",
        verbose_name="same instrument as",
        help_text="Where its necks want unlike boards, each is a build of its own.",
    )
    pattern = models.ForeignKey(Pattern, on_delete=models.SET_NULL, null=True, blank=True, related_name="builds")
    remarks = models.TextField(max_length=2000, blank=True)
    state = models.CharField(max_length=10, choices=BuildState, default=BuildState.OPEN)
    closed_on = models.DateField("delivered or cancelled", null=True, blank=True)
    version = models.PositiveIntegerField(default=0)

    objects = BuildQuerySet.as_manager()

    class Meta(Spec.Meta):
        ordering = ["number"]
        constraints = [
            *Spec.Meta.constraints,
            models.CheckConstraint(
                condition=Q(state__in=("open", "held"), closed_on=None)
                | Q(state__in=("delivered", "cancelled"), closed_on__isnull=False),
                name="build_closes_on_a_day",
            ),
            models.CheckConstraint(condition=Q(boards_wanted__gt=0), name="build_wants_a_board"),
            models.CheckConstraint(condition=Q(goes_with=None) | ~Q(goes_with=F("id")), name="build_goes_with_another"),
        ]
        indexes = [
            models.Index(fields=["closed_on", "due_on", "number"], name="build_by_due_day"),
            models.Index(fields=["-closed_on", "number"], name="build_by_closing_day"),
            models.Index(fields=["state"], name="build_by_state"),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.title}"

    @property
    def short_name(self) -> str:
        """How it is called inside a sentence."""
        return self.number

    @property
    def is_open(self) -> bool:
        """Tell whether it is still to be delivered."""
        return self.closed_on is None

    @property
    def is_held(self) -> bool:
        """Tell whether work on it stops until somebody decides."""
        return self.state == BuildState.HELD

    @property
    def goes_on(self) -> bool:
        """Tell whether its boards may be worked on."""
        return self.state == BuildState.OPEN

    def is_late(self, today: date) -> bool:
        """Tell whether the promised day is over."""
        return self.closed_on is None and self.due_on is not None and self.due_on < today

    def companions(self) -> BuildQuerySet:
        """Give the other builds of the same instrument."""
        first = self.goes_with_id or self.pk
        return Build.objects.filter(Q(pk=first) | Q(goes_with=first)).exclude(pk=self.pk).order_by("number")

    # What happens to it

    def note(self, hand: Hand, text: str) -> BuildEntry:
        """Write a note. It changes nothing of the build, so that two people may write at once."""
        return self._enter(BuildKind.NOTED, hand, text=text)

    def hold(self, hand: Hand, seen: int, reason: str) -> BuildEntry:
        """Stop work on it: its boards stay where they are and come up at no bench."""
        self._must(seen, self.state == BuildState.OPEN)
        return self._write(BuildKind.HELD, hand, seen, state=BuildState.HELD, text=reason)

    def let_go_on(self, hand: Hand, seen: int, reason: str = "") -> BuildEntry:
        """Let work on it go on."""
        self._must(seen, self.is_held)
        return self._write(BuildKind.RELEASED, hand, seen, state=BuildState.OPEN, text=reason)

    def deliver(self, hand: Hand, seen: int, day: date, reason: str = "") -> BuildEntry:
        """Deliver it, and with it whatever belongs to the same instrument and is still open."""
        self._must(seen, self.is_open)
        closed = {"state": BuildState.DELIVERED, "closed_on": day}
        with transaction.atomic():
            self._hold_fast()
            entry = self._write(BuildKind.DELIVERED, hand, seen, **closed, text=reason, day=day)
            for other in self.companions().filter(closed_on=None):
                other._write(BuildKind.DELIVERED, hand, other.version, **closed, text=f"With {self.number}.", day=day)
        return entry

    def cancel(self, hand: Hand, seen: int, reason: str) -> BuildEntry:
        """Give it up: its boards are free again, but for those that are glued to a neck."""
        self._must(seen, self.is_open)
        with transaction.atomic():
            self._hold_fast()
            for blank in self.blanks.not_scrapped().select_related("build", "pattern"):
                if not blank.is_on_neck:
                    blank.take_off(hand, blank.version, f"{self.number} is cancelled: {reason}"[:2000])
            closed = {"state": BuildState.CANCELLED, "closed_on": timezone.localdate(hand.at)}
            return self._write(BuildKind.CANCELLED, hand, seen, **closed, text=reason)

    def reopen(self, hand: Hand, seen: int, reason: str = "") -> BuildEntry:
        """Open it again. Boards that were freed stay free."""
        self._must(seen, not self.is_open)
        return self._write(BuildKind.REOPENED, hand, seen, state=BuildState.OPEN, closed_on=None, text=reason)

    def write_down(self, hand: Hand) -> BuildEntry:
        """Note who wrote it down, and when."""
        return self._enter(BuildKind.WRITTEN, hand)

    def note_changes(self, hand: Hand, before: Build) -> BuildEntry | None:
        """Note what was changed of it."""
        names = ("title", "number", "customer", "due_on", "neck_joint", "boards_wanted", "goes_with", "remarks")
        changes = {
            name: [_as_kept(getattr(before, name)), _as_kept(getattr(self, name))]
            for name in (*names, *self.SPEC)
            if getattr(before, name) != getattr(self, name)
        }
        return self._enter(BuildKind.CHANGED, hand, changes=changes) if changes else None

    def _hold_fast(self) -> None:
        """Lock the builds of its instrument, always in the same order: nobody puts a blank to one of them meanwhile."""
        first = self.goes_with_id or self.pk
        group = Build.objects.filter(Q(pk=first) | Q(goes_with=first) | Q(pk=self.pk))
        list(group.order_by("pk").select_for_update(no_key=True).values_list("pk"))

    def _must(self, seen: int, possible: bool) -> None:
        if self.version != seen:
            raise self._changed()
        if not possible:
            raise Refused(f"{self.number} is {self.get_state_display()} already.", self)

    def _changed(self) -> Changed:
        last = self.entries.exclude(kind=BuildKind.NOTED).select_related("by").last()
        said = f": {last.words[:1].lower()}{last.words[1:]} by {last.by}" if last else ""
        return Changed(f"Somebody has changed {self.number} since you saw it{said}.", self)

    def _write(
        self,
        kind: BuildKind,
        hand: Hand,
        seen: int,
        *,
        state: BuildState,
        closed_on: date | None = None,
        **details: Any,
    ) -> BuildEntry:
        """Write one entry and the columns that follow from it, if the build is still as the person saw it."""
        columns = {"state": state, "closed_on": closed_on, "version": seen + 1}
        with transaction.atomic():
            if not Build.objects.filter(pk=self.pk, version=seen).update(**columns):
                raise self._changed()
            entry = self._enter(kind, hand, **details)
        for name, value in columns.items():
            setattr(self, name, value)
        return entry

    def _enter(self, kind: BuildKind, hand: Hand, **details: Any) -> BuildEntry:
        entry = BuildEntry(
            build=self,
            kind=kind,
            at=hand.at,
            pressed_at=hand.pressed_at,
            by=hand.by,
            device=hand.device[:200],
            request_id=hand.request_id,
            **details,
        )
        entry.save()
        return entry


def _as_kept(value: object) -> object:
    """Write a value as an entry keeps it: plain decimals, days by the calendar, things by their names."""
    if isinstance(value, Decimal):
        return format(value.normalize(), "f")
    if isinstance(value, date):
        return value.isoformat()
    return value if value is None or isinstance(value, int | str) else str(value)
