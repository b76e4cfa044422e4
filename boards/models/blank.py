"""Blanks: pieces of fretboard stock, from the day they come in until they are glued to a neck."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, timedelta
from decimal import Decimal
from functools import wraps
from typing import Any

from django.core.validators import MinValueValidator
from django.db import models, transaction
from django.db.models import Q
from django.db.models.functions import Upper

from boards.models.clashes import why_not
from boards.models.log import LogEntry, as_kept
from boards.models.made import AsMade, as_made, cut_on, made_by
from boards.models.measured import as_measured
from boards.models.queries import BlankQuerySet
from boards.models.state import CAN_BE_UNDONE, Condition, Kind, State, after, replay
from geometry.errors import GeometryError
from geometry.measured import AsMeasured
from geometry.request import BlankSize, Request
from geometry.workout import work_out
from shop.fields import LengthField
from shop.models import Build, Changed, Hand, Pattern, RadiusBy, Refused, Shop, Species, User
from shop.stages import STAGES


def _if_unchanged(method: Callable[..., LogEntry]) -> Callable[..., LogEntry]:
    """Tell the loser of a race who was first, before judging a blank that they have not seen."""

    @wraps(method)
    def checked(self: Blank, hand: Hand, seen: int, *args: Any, **kwargs: Any) -> LogEntry:
        if self.version != seen:
            raise self._changed()
        return method(self, hand, seen, *args, **kwargs)

    return checked


def _held_fast(spec: Build | Pattern) -> Build | Pattern:
    """Fetch a spec as it is by now, and let nobody change it before this is written.

    Who changes a spec locks it first and looks at its blanks then, and so does who puts a blank to it.
    """
    held = type(spec).objects.select_for_update(of=("self",), no_key=True)
    return held.select_related("route", "wire").get(pk=spec.pk)


class Cut(models.TextChoices):
    """How the board was sawn from the log."""

    QUARTER = "quarter", "Quartersawn"
    RIFT = "rift", "Rift"
    FLAT = "flat", "Flatsawn"


class Blank(models.Model):
    """One blank. It keeps its number all its life.

    `build`, `pattern`, `stages`, `done`, `next_stage`, `condition`, `in_rack` and `version` repeat what the log says;
    only `_write` sets them, in the transaction that writes the entry.
    """

    number = models.CharField(max_length=24, unique=True)
    species = models.ForeignKey(Species, on_delete=models.PROTECT)
    cut = models.CharField("sawn", max_length=8, choices=Cut, default=Cut.QUARTER)
    length = LengthField()
    width = LengthField()
    thickness = LengthField()
    moisture = models.DecimalField(
        "moisture, %", max_digits=4, decimal_places=1, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    received_on = models.DateField("came in on")
    supplier = models.CharField(max_length=80, blank=True)
    lot = models.CharField("lot or box", max_length=40, blank=True)
    cost = models.DecimalField(
        "cost of one", max_digits=9, decimal_places=2, null=True, blank=True, validators=[MinValueValidator(0)]
    )
    place = models.CharField("place in the rack", max_length=40, blank=True)
    remarks = models.TextField(max_length=2000, blank=True)

    build = models.ForeignKey(Build, on_delete=models.PROTECT, null=True, blank=True, related_name="blanks")
    pattern = models.ForeignKey(Pattern, on_delete=models.PROTECT, null=True, blank=True, related_name="blanks")
    stages = models.JSONField(default=list, blank=True)
    done = models.JSONField(default=list, blank=True)
    next_stage = models.CharField(max_length=20, blank=True)
    condition = models.CharField(max_length=10, choices=Condition, default=Condition.ACTIVE)
    in_rack = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=0)
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    objects = BlankQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.CheckConstraint(
                condition=Q(length__gt=0) & Q(width__gt=0) & Q(thickness__gt=0), name="blank_has_size"
            ),
            models.CheckConstraint(condition=Q(build=None) | Q(pattern=None), name="blank_has_one_spec"),
            models.CheckConstraint(
                condition=Q(moisture=None) | Q(moisture__gte=0, moisture__lte=200), name="moisture_is_possible"
            ),
        ]
        indexes = [
            models.Index(fields=["next_stage", "condition"], name="blank_by_bench"),
            models.Index(fields=["received_on"], name="blank_by_arrival"),
            # Few blanks lie in the rack, and many have passed through it: whatever else is asked of those there,
            # an index that begins with the rack must have more to offer than one that does not.
            models.Index(fields=["in_rack", "received_on", "number"], name="blank_by_rack"),
            models.Index(fields=["in_rack", "condition", "received_on"], name="blank_by_rack_and_condition"),
            models.Index(fields=["in_rack", "species", "received_on"], name="blank_by_rack_and_species"),
            models.Index(fields=["lot"], name="blank_by_lot"),
            models.Index(Upper("lot"), name="blank_by_lot_in_capitals"),  # as people type it
        ]

    def __str__(self) -> str:
        return self.number

    # What it must become

    @property
    def spec(self) -> Build | Pattern | None:
        """The spec it follows: its build's, or a pattern's."""
        return self.build or self.pattern

    @property
    def size(self) -> BlankSize:
        """Its size as geometry asks for it."""
        return BlankSize(float(self.length), float(self.width), float(self.thickness))

    def as_request(self, shop: Shop) -> Request:
        """Ask geometry about this blank under its spec."""
        if self.spec is None:
            raise ValueError(f"{self.number} has no spec.")
        more: dict[str, Any] = {"blank": self.size, "scallop_max": float(shop.scallop_max)}
        if self.spec.radius_by == RadiusBy.JIG:
            more["cutter"] = shop.cutter.as_request() if shop.cutter else None
            if self.waits_for("radiusing") and shop.jig and shop.cutter:
                more.update(jig=shop.jig.as_request(), formers=shop.formers)
        return self.spec.as_request(**more)

    def waits_for(self, stage: str) -> bool:
        """Tell whether a stage is still to come."""
        return stage in self.stages and stage not in self.done

    def is_resting(self, today: date, rest_days: int) -> bool:
        """Tell whether it has not lain in the shop long enough."""
        return not self.species.composite and self.received_on > today - timedelta(days=rest_days)

    @property
    def state(self) -> State:
        """Where it stands, as its columns have it."""
        return State(self.build_id, self.pattern_id, tuple(self.stages), tuple(self.done), self.condition)

    @property
    def is_on_neck(self) -> bool:
        """Tell whether it is glued already: the jig's riser has to come out."""
        return "gluing" in self.done

    @property
    def as_made(self) -> AsMade:
        """What it is by now, from its log as it was fetched."""
        return as_made(self.log.all(), self.thickness)

    def at_odds_with(self, spec: Build | Pattern) -> str:
        """Say what was made of it that a spec wants otherwise; nothing where all of it will do."""
        return why_not(self.as_made, self.done, spec) or self.as_made.unknown_words

    def as_measured(self, log: Iterable[LogEntry]) -> AsMeasured | None:
        """Put together from its log what was read of it so far: the next cut counts from it."""
        return as_measured(log, self.done, self.thickness)

    # What happens to it

    @_if_unchanged
    @transaction.atomic
    def put_to(self, hand: Hand, seen: int, spec: Build | Pattern) -> LogEntry:
        """Give it a spec to follow, as that is by now: somebody may have closed the build or changed its route."""
        spec = _held_fast(spec)
        build, pattern = (spec, None) if isinstance(spec, Build) else (None, spec)
        self._must(self.condition != Condition.SCRAPPED, "is scrapped")
        self._must(self.spec is None, f"is put to {self.spec} already; take it off there first")
        if build is not None:
            self._must(build.closed_on is None, f"cannot go to {build}: that build is closed")
        made = as_made(self.log.order_by("number"), self.thickness)
        if why := why_not(made, self.done, spec):
            raise Refused(f"{self.number} cannot go to {spec}. {why}", self)
        stages, unknown = list(spec.route.stages), made.unknown_words
        return self._write(Kind.ASSIGNED, hand, seen, build=build, pattern=pattern, stages=stages, reason=unknown)

    @_if_unchanged
    def take_off(self, hand: Hand, seen: int, reason: str = "") -> LogEntry:
        """Put it back into the rack, free for another spec."""
        self._must(self.spec is not None, "is put to nothing")
        self._must(not self.is_on_neck, "is glued to its neck")
        return self._write(Kind.FREED, hand, seen, reason=reason)

    @_if_unchanged
    def reroute(self, hand: Hand, seen: int, stages: Iterable[str]) -> LogEntry:
        """Follow its spec to another route, before any stage is done."""
        self._must(self.spec is not None, "is put to nothing")
        self._must(not self.done, f"is {STAGES[self.done[-1]].done} already" if self.done else "")
        return self._write(Kind.REROUTED, hand, seen, stages=list(stages))

    @_if_unchanged
    def finish(
        self,
        hand: Hand,
        seen: int,
        stage: str,
        readings: dict[str, Decimal],
        reason: str = "",
        aims: dict[str, Decimal] | None = None,
    ) -> LogEntry:
        """Finish the stage that it waits for, with what was read and what each reading should have come to."""
        if stage not in STAGES:
            raise Refused(f"There is no stage {stage!r}.", self)
        self._must(self.condition == Condition.ACTIVE, f"is {self.get_condition_display()}")
        build = self.build
        self._must(build is None or build.goes_on, f"is for {build}, which is {build and build.get_state_display()}")
        self._must(stage not in self.done, f"is {STAGES[stage].done} already")
        waits = STAGES[self.next_stage].label.lower() if self.next_stage else "nothing"
        self._must(stage == self.next_stage, f"waits for {waits}, not for {STAGES[stage].label.lower()}")
        try:
            asked = self.spec.as_request()
            made = made_by(stage, asked, work_out(asked, measured=self.as_measured(self.log.all())))
            made |= cut_on(stage, self.spec)
        except GeometryError as error:
            raise Refused(f"{self.number} cannot be worked out: {error.words}", self) from error
        read = {"readings": as_kept(readings), "aims": as_kept(aims or {})}
        return self._write(Kind.FINISHED, hand, seen, stage=stage, made=made, reason=reason, **read)

    @_if_unchanged
    def hold(self, hand: Hand, seen: int, reason: str) -> LogEntry:
        """Stop work on it until somebody decides."""
        self._must(self.condition == Condition.ACTIVE, f"is {self.get_condition_display()}")
        return self._write(Kind.HELD, hand, seen, reason=reason)

    @_if_unchanged
    def release(self, hand: Hand, seen: int, reason: str = "") -> LogEntry:
        """Let work go on."""
        self._must(self.condition == Condition.HELD, "is not held")
        return self._write(Kind.RELEASED, hand, seen, reason=reason)

    @_if_unchanged
    def rework(self, hand: Hand, seen: int, stage: str, reason: str) -> LogEntry:
        """Send it back to a stage that is done, and through all that followed."""
        self._must(self.condition != Condition.SCRAPPED, "is scrapped")
        self._must(stage in self.done, f"has not been through {stage}")
        return self._write(Kind.REWORKED, hand, seen, stage=stage, reason=reason)

    @_if_unchanged
    def scrap(self, hand: Hand, seen: int, reason: str) -> LogEntry:
        """Give it up. It keeps its number and its log."""
        self._must(self.condition != Condition.SCRAPPED, "is scrapped already")
        return self._write(Kind.SCRAPPED, hand, seen, reason=reason)

    @_if_unchanged
    def measure(self, hand: Hand, seen: int, length: Decimal, width: Decimal, thickness: Decimal) -> LogEntry:
        """Correct its size by measuring it again; the log keeps the size before."""
        before = as_kept({name: getattr(self, name) for name in ("length", "width", "thickness")})
        now = {"length": length, "width": width, "thickness": thickness}
        return self._write(Kind.MEASURED, hand, seen, readings=before, columns=now)

    @_if_unchanged
    def gauge(self, hand: Hand, seen: int, found: str, points: dict[str, Decimal]) -> LogEntry:
        """Keep what a gauge has read of its curve: the points, and what they say. It stays where it stands."""
        self._must(self.condition != Condition.SCRAPPED, "is scrapped")
        return self._write(Kind.GAUGED, hand, seen, readings=as_kept(points), reason=found)

    def last_undoable(self) -> LogEntry | None:
        """Find the entry that a mistaken tap may take back: the last one that still stands."""
        _, standing = replay(self.log.select_related("build", "pattern").order_by("number"))
        for entry, _before in reversed(standing):
            if entry.kind in CAN_BE_UNDONE:
                return entry
            if entry.kind in (Kind.RECEIVED, Kind.REROUTED):
                return None
        return None

    @_if_unchanged
    @transaction.atomic
    def undo(self, hand: Hand, seen: int, entry: LogEntry) -> LogEntry:
        """Take back the last entry that stands. Nothing is deleted: the taking back is an entry too."""
        last = self.last_undoable()
        self._must(last is not None and last.pk == entry.pk, "has gone on since; only the last thing can be taken back")
        self._must_have_a_place(replay([*self.log.order_by("number"), LogEntry(kind=Kind.UNDONE, undoes=entry)])[0])
        return self._write(Kind.UNDONE, hand, seen, undoes=entry)

    def _must_have_a_place(self, state: State) -> None:
        """Refuse to go back to a build that has been closed, or that goes another route by now."""
        if state.build_id is None or state.finished or state.condition == Condition.SCRAPPED:
            return
        build = _held_fast(Build(pk=state.build_id))
        self._must(build.closed_on is None, f"would go back to {build}, which is closed")
        same = list(state.stages) == build.route.stages
        self._must(same, f"would go back to {build} by another route; put it there anew")

    def _must(self, condition: bool, otherwise: str) -> None:
        if not condition:
            raise Refused(f"{self.number} {otherwise}.", self)

    def _state_after(self, entry: LogEntry) -> State:
        if entry.kind != Kind.UNDONE:
            return after(self.state, entry)
        # Appended in memory: `replay` needs no more than the kind and what it undoes.
        return replay([*self.log.order_by("number"), entry])[0]

    def _write(
        self, kind: Kind, hand: Hand, seen: int, *, columns: dict[str, Any] | None = None, **details: Any
    ) -> LogEntry:
        """Write one entry and the columns that follow from it, if the blank is still as the person saw it."""
        entry = LogEntry(
            blank=self,
            number=seen + 1,
            at=hand.at,
            # No earlier than what the person saw.
            pressed_at=hand.pressed_at and max(hand.pressed_at, self.changed_at),
            by=hand.by,
            kind=kind,
            device=hand.device[:200],
            request_id=hand.request_id,
            from_stage=self.next_stage,
            **details,
        )
        state = self._state_after(entry)
        entry.to_stage = state.next_stage
        changes = {
            "build_id": state.build_id,
            "pattern_id": state.pattern_id,
            "stages": list(state.stages),
            "done": list(state.done),
            "next_stage": state.next_stage,
            "condition": state.condition,
            "in_rack": state.in_rack,
            "version": seen + 1,
            "changed_at": hand.at,
            "changed_by": hand.by,
            **(columns or {}),
        }
        with transaction.atomic():
            if not Blank.objects.filter(pk=self.pk, version=seen).update(**changes):
                raise self._changed()
            entry.save()
        for name, value in changes.items():
            setattr(self, name, value)
        return entry

    def _changed(self) -> Changed:
        last = self.log.select_related("by", "build", "pattern").order_by("number").last()
        if last is None:
            return Changed(f"{self.number} is not what you saw.", self)
        return Changed(
            f"{last.by} has changed {self.number} since you saw it: {last.words[:1].lower()}{last.words[1:]}.",
            self,
        )
