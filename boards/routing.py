"""The routing of one blank, as its traveller shows it: the stages in order, what each must reach, what is done."""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from itertools import groupby

from boards.figures import Worked
from boards.models import Blank, Kind, LogEntry, replay
from boards.readings import Target, targets
from boards.setups import Setup, setup_of
from shop.models import Shop
from shop.stages import STAGES, Stage


@dataclass(frozen=True, slots=True)
class Reading:
    """One reading: what it must come to and, once taken, what it came to in mm."""

    target: Target
    read: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """One stage on the way of a blank, with the log's entry once it is done, and what a gauge has read since."""

    place: int
    stage: Stage
    setup: Setup
    readings: list[Reading]
    cautions: tuple[str, ...]
    done: LogEntry | None
    gauged: str = ""

    @property
    def blocks(self) -> list[tuple[Target, list[Reading]]]:
        """Put together the boxes that share a target, so that it stands once beside them."""
        grouped = groupby(self.readings, key=lambda reading: (reading.target.what, reading.target.value))
        blocks = [list(readings) for _, readings in grouped]
        return [(readings[0].target, readings) for readings in blocks]


@dataclass(frozen=True, slots=True)
class SharedCautions:
    """Cautions that hold at several stages, said once, with the stages that they hold at."""

    stages: list[Stage]
    cautions: list[str]


def steps_of(board: Worked, shop: Shop) -> list[Step]:
    """List the stages of a blank's route in their order.

    Each is worked out for the blank as it will be when it gets there: the corners of a board that is radiused on
    its neck cannot be read, however square it lies in the rack today.
    """
    blank = board.blank
    finished = _finished(blank)
    shared = {caution for group in shared_cautions(blank) for caution in group.cautions}
    steps = []
    for place, key in enumerate(blank.stages):
        then = copy.copy(blank)
        then.done = blank.stages[:place]
        entry, result = finished.get(key), board.at(key)
        read = entry.readings if entry else {}
        steps.append(
            Step(
                place + 1,
                STAGES[key],
                setup_of(key, Worked(then, board.request, result), shop.style),
                [
                    Reading(target, Decimal(read[target.key]) if target.key in read else None)
                    for target in targets(key, then, board.request, result, shop)
                ],
                tuple(caution for caution in STAGES[key].cautions if caution not in shared),
                entry,
                _gauged(blank, entry) if key == "radiusing" else "",
            )
        )
    return steps


def shared_cautions(blank: Blank) -> list[SharedCautions]:
    """Gather the cautions that more than one stage still to come has, by the stages that share them."""
    ahead = [STAGES[key] for key in blank.stages if key not in blank.done]
    count = Counter(caution for stage in ahead for caution in stage.cautions)
    groups: dict[tuple[str, ...], SharedCautions] = {}
    for caution in (caution for caution, times in count.items() if times > 1):
        stages = [stage for stage in ahead if caution in stage.cautions]
        group = groups.setdefault(tuple(stage.key for stage in stages), SharedCautions(stages, []))
        group.cautions.append(caution)
    return list(groups.values())


def _finished(blank: Blank) -> dict[str, LogEntry]:
    """Find the entry that finished each stage that counts as done, from the log as it was fetched."""
    _, standing = replay(sorted(blank.log.all(), key=lambda entry: entry.number))
    entries = {entry.stage: entry for entry, _ in standing if entry.kind == Kind.FINISHED}
    return {stage: entry for stage, entry in entries.items() if stage in blank.done}


def _gauged(blank: Blank, radiused: LogEntry | None) -> str:
    """Say what the gauge read of a curve, if that was after it was cut."""
    later = [entry for entry in blank.log.all() if radiused and entry.number > radiused.number]
    return last_said(later, [Kind.GAUGED])


def last_reason(blank: Blank, kinds: Iterable[str]) -> str:
    """Give the reason of the last thing of a kind that happened to a blank."""
    return last_said(blank.log.all(), kinds)


def last_said(log: Iterable[LogEntry], kinds: Iterable[str]) -> str:
    """Give the reason of the last entry of a kind."""
    said = [entry for entry in log if entry.kind in kinds]
    return max(said, key=lambda entry: entry.number).reason if said else ""
