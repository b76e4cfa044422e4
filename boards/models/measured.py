"""What was read of a board so far, as geometry takes it: the next cut counts from it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from boards.models.made import AsMade, as_made
from boards.models.state import Kind, replay
from geometry.measured import AsMeasured


def as_measured(log: Iterable[Any], done: Sequence[str], thickness: Decimal) -> AsMeasured | None:
    """Put together what was read of a board, from its log and the thickness that it was measured with as a blank.

    Of a stage that counts as done the readings stand, those of the last time where it was done twice; what was not
    read is what the log says was made. Of one that has to be done again they do not, but the wood that it took is
    gone, and its slots are there.
    """
    entries = sorted(log, key=lambda entry: entry.number)
    finished = {entry.stage: entry for entry, _ in replay(entries)[1] if entry.kind == Kind.FINISHED}
    figures, reckoned = _of_stages(finished, done, float(thickness))
    if any(stage not in done for stage in finished):
        figures |= _of_work_undone(as_made(entries, thickness), finished, done)
    return AsMeasured(**figures, reckoned=frozenset(reckoned)) if figures else None


def measured_before(log: Iterable[Any], done: Sequence[str], stage: str, thickness: Decimal) -> AsMeasured | None:
    """Put together what had been read of a board when it came to a stage that is done by now."""
    earlier = done[: done.index(stage)]
    entries = [entry for entry, _ in replay(sorted(log, key=lambda entry: entry.number))[1]]
    finished = {entry.stage: entry for entry in entries if entry.kind == Kind.FINISHED and entry.stage in earlier}
    figures, reckoned = _of_stages(finished, earlier, float(thickness))
    return AsMeasured(**figures, reckoned=frozenset(reckoned)) if figures else None


def _of_stages(finished: dict[str, Any], done: Sequence[str], most: float) -> tuple[dict[str, float], set[str]]:
    """Take what stages left, by the names of `AsMeasured`, and which of it was not read."""
    figures: dict[str, float] = {}
    reckoned: set[str] = set()

    def take(name: str, entry: Any, reading: str, made: str) -> None:
        value = entry.readings.get(reading)
        if value is None and (value := entry.made.get(made)) is not None:
            reckoned.add(name)
        if value is not None and float(value) > 0:
            figures[name] = float(value) if name == "slot_depth" else min(float(value), most)

    for stage, entry in finished.items():
        if stage not in done:
            continue
        match stage:
            case "thicknessing":
                ends = [end for end in ("head", "heel") if end in entry.readings]
                for end in ends or ("head", "heel"):
                    take(end, entry, end, "thickness")
            case "slotting":
                take("slot_depth", entry, "depth", "depth")
            case "radiusing":
                take("centre", entry, "centre", "thickness")
    return figures, reckoned


def _of_work_undone(made: AsMade, finished: dict[str, Any], done: Sequence[str]) -> dict[str, float]:
    """Take what work that has to be done again left in the wood."""
    figures = {}
    again = {"thicknessing", "radiusing"} & finished.keys() - set(done)
    if again and made.thickness is not None:
        figures["at_most"] = made.thickness
    if made.slots is not None and "slotting" not in done:
        figures["floor"] = made.slots.floor
    return figures
