"""The boards that went through a stage on the same setup before this one: what they share, and what creeps."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import takewhile
from typing import Any

from boards.models import Blank, Kind, LogEntry
from boards.models.made import made_by
from boards.readings import Target
from geometry.drift import drift
from geometry.errors import GeometryError
from geometry.findings import Finding
from geometry.runs import read_run
from geometry.units import format_small
from geometry.verdicts import BoardReading
from shop.models import Shop

LOOKED_AT = 5  # boards
LEAST = 3  # boards that share something before it is said: two do so by chance too often to stop work for
FOR = timedelta(days=7)  # what is longer ago was another setup of the same pieces
# What stands on the machine follows from these of the figures that a stage was done to.
_OF_THE_SETUP = {
    "thicknessing": ("thickness",),
    "slotting": ("scale", "bass_scale", "kerf"),
    "radiusing": ("radius_nut", "radius_heel"),
    "tapering": ("nut_width", "heel_width", "length"),
}


def lately(stage: str, blank: Blank, asked: list[Target], shop: Shop, now: datetime) -> list[str]:
    """Say what to look at before this board is cut, from those that were read on the same setup before it."""
    if not asked or stage not in _OF_THE_SETUP:
        return []
    entries = _on_this_setup(stage, blank, now - FOR)
    said = [words for target in asked if (words := _creeping(target, entries, shop))]
    if stage == "radiusing":
        said += [finding.said for finding in _shared(entries, shop)]
    return said


def _on_this_setup(stage: str, blank: Blank, since: datetime) -> list[LogEntry]:
    """Find the last boards at a stage that were done to the same figures, one after another; the oldest first."""
    try:
        made = made_by(stage, blank.spec.as_request(), blank.spec.figures())
    except GeometryError:
        return []
    finished = LogEntry.objects.filter(kind=Kind.FINISHED, stage=stage, undone_by=None, at__gte=since)
    finished = finished.order_by("-at", "-pk")
    # Somebody who made another board in between has changed the setup, and back again.
    same = takewhile(lambda entry: _setup(stage, entry.made) == _setup(stage, made), finished[:LOOKED_AT])
    return list(same)[::-1]


def _setup(stage: str, made: dict[str, Any]) -> list[Any]:
    return [made.get(name) for name in _OF_THE_SETUP[stage]]


def _off(entry: LogEntry, key: str) -> float | None:
    """How far a reading was off what it should have been, mm."""
    if key not in entry.readings or key not in entry.aims:
        return None
    return float(entry.readings[key]) - float(entry.aims[key])


def _creeping(target: Target, entries: list[LogEntry], shop: Shop) -> str:
    off = [value for entry in entries if (value := _off(entry, target.key)) is not None]
    found = drift(off, target.tolerance)
    if found is None:
        return ""
    each = ", ".join(_way(value, target, shop) for value in off[-found.boards :])
    return (
        f"Last boards on this setup, {target.label[:1].lower()}{target.label[1:]}: {each}. It creeps "
        f"{'up' if found.by > 0 else 'down'}: look why before this one is cut."
    )


def _way(off: float, target: Target, shop: Shop) -> str:
    size = format_small(abs(off), shop.style, with_unit=False)
    return f"{size} {target.over if off > 0 else target.under}" if float(size) else "to size"


def _shared(entries: list[LogEntry], shop: Shop) -> Iterator[Finding]:
    """Look for what all of them share, which is the jig's doing."""
    boards = [BoardReading("pass", (), off=off) for entry in entries if (off := _of_the_curve(entry))]
    if len(boards) >= LEAST:
        yield from read_run(boards, float(shop.corner_tolerance), shop.style).findings


def _of_the_curve(entry: LogEntry) -> dict[str, float]:
    """Take the readings of a board apart as `geometry.verdicts.read_board` does: sides, levels of the ends, middle."""
    off = {key: value for key in entry.readings if (value := _off(entry, key)) is not None}
    parts = {"centre": off["centre"]} if "centre" in off else {}
    for end in ("head", "heel"):
        bass, treble = off.get(f"{end}_bass"), off.get(f"{end}_treble")
        if bass is None or treble is None:
            continue
        parts[f"{end} sides"] = treble - bass
        if "centre" in off:
            parts[f"{end} level"] = (bass + treble) / 2 - off["centre"]
    return parts
