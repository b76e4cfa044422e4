"""The state of a blank, as its log tells it.

Pure: a list of entries in, a state out. The columns of `Blank` repeat the answer for speed; `manage.py check_log`
proves that they agree.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Protocol

from django.db import models


class Kind(models.TextChoices):
    """What can happen to a blank."""

    RECEIVED = "received", "came in"
    ASSIGNED = "assigned", "put to"
    FREED = "freed", "taken off"
    REROUTED = "rerouted", "sent another route"
    FINISHED = "finished", "finished"
    HELD = "held", "held"
    RELEASED = "released", "released"
    REWORKED = "reworked", "sent back"
    SCRAPPED = "scrapped", "scrapped"
    MEASURED = "measured", "measured again"
    GAUGED = "gauged", "gauged"
    UNDONE = "undone", "taken back"


# Taking back a receipt would leave a blank that never came; taking back a measurement is measuring again, and what a
# gauge has read changed nothing.
CAN_BE_UNDONE = frozenset(
    {Kind.ASSIGNED, Kind.FREED, Kind.FINISHED, Kind.HELD, Kind.RELEASED, Kind.REWORKED, Kind.SCRAPPED}
)


class Condition(models.TextChoices):
    """Whether a blank may be worked on."""

    ACTIVE = "active", "in work"
    HELD = "held", "held"
    SCRAPPED = "scrapped", "scrapped"


class Entry(Protocol):
    """What the state needs to know of a log entry."""

    pk: int
    kind: str
    stage: str
    build_id: int | None
    pattern_id: int | None
    stages: list[str] | None
    undoes_id: int | None


@dataclass(frozen=True, slots=True)
class State:
    """Where a blank stands."""

    build_id: int | None = None
    pattern_id: int | None = None
    stages: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    condition: str = Condition.ACTIVE

    @property
    def next_stage(self) -> str:
        """The stage it waits for; empty without a spec, and when all is done."""
        return next((stage for stage in self.stages if stage not in self.done), "")

    @property
    def in_rack(self) -> bool:
        """Tell whether it lies in the rack: nothing is done on it yet, or it is free again."""
        free = self.build_id is None and self.pattern_id is None
        return self.condition != Condition.SCRAPPED and (free or not self.done)

    @property
    def finished(self) -> bool:
        """Tell whether every stage of its route is done."""
        return bool(self.stages) and not self.next_stage


def after(state: State, entry: Entry) -> State:
    """Give the state that one entry leads to."""
    match entry.kind:
        case Kind.ASSIGNED:
            return replace(
                state, build_id=entry.build_id, pattern_id=entry.pattern_id, stages=tuple(entry.stages or ())
            )
        case Kind.FREED:
            return replace(state, build_id=None, pattern_id=None, stages=())
        case Kind.REROUTED:
            return replace(state, stages=tuple(entry.stages or ()))
        case Kind.FINISHED:
            return replace(state, done=(*state.done, entry.stage))
        case Kind.REWORKED:
            # Back to a stage: that one and all that came after it on its way have to be done again.
            return replace(state, done=state.done[: state.done.index(entry.stage)], condition=Condition.ACTIVE)
        case Kind.HELD:
            return replace(state, condition=Condition.HELD)
        case Kind.RELEASED:
            return replace(state, condition=Condition.ACTIVE)
        case Kind.SCRAPPED:
            return replace(state, condition=Condition.SCRAPPED)
        case _:
            return state


def replay(entries: Iterable[Entry]) -> tuple[State, list[tuple[Entry, State]]]:
    """Follow a log from its beginning.

    Returns the state, and the entries that stand (not taken back), each with the state before it.
    """
    state, standing = State(), []
    for entry in entries:
        if entry.kind == Kind.UNDONE:
            while standing:
                undone, before = standing.pop()
                state = before
                if undone.pk == entry.undoes_id:
                    break
            continue
        standing.append((entry, state))
        state = after(state, entry)
    return state, standing
