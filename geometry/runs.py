"""What the boards of one run have in common: that is the jig's doing, not the boards'."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from geometry.findings import Finding, Verdict, side_of, student, worst
from geometry.radiused import ENDS
from geometry.units import LengthStyle
from geometry.verdicts import BoardReading
from geometry.words import at_least


@dataclass(frozen=True, slots=True)
class RunReading:
    """What the boards of one run have in common: how many were read, and what they share."""

    boards: int
    findings: tuple[Finding, ...]

    @property
    def verdict(self) -> Verdict:
        """What it makes of the next board: rework is of the jig then, before that is cut."""
        return worst(finding.leads_to for finding in self.findings)


def read_run(
    readings: Sequence[BoardReading], tolerance: float, style: LengthStyle = LengthStyle.MM, formers: str = ""
) -> RunReading:
    """Look for what all boards of a run on the same formers share: that is the jig's doing, not the boards'.

    Parameters
    ----------
    readings : sequence of BoardReading
        In the order in which the boards were cut, two at least.
    tolerance : float
        How far corners may be off, mm; a drift of half of it counts.
    style : LengthStyle
        How lengths are written.
    formers : str
        What the formers are called, for the words.

    Notes
    -----
    A thing is shared when it is off the same way on every board, by half the tolerance on average, and by more than
    chance would make it: Student's t at 97.5 % for three boards and more, and for two that they differ from one
    another by less than they are off.
    """
    findings = []
    names = [name for name in (readings[0].off if readings else ()) if all(name in one.off for one in readings)]
    for name in names:
        values = np.array([one.off[name] for one in readings])
        mean = float(values.mean())
        if len(values) < 2 or abs(mean) < tolerance / 2 or not (np.sign(values) == np.sign(mean)).all():
            continue
        if len(values) == 2:
            chance = float(np.ptp(values))
        else:
            chance = student(len(values) - 1) * float(values.std(ddof=1)) / math.sqrt(len(values))
        if abs(mean) > chance:
            findings.append(_shared(name, mean, len(values), tolerance, style, formers))
    for cause in ("crown", "sides", "steps", "hollow"):
        if len(readings) >= 2 and all(any(f.cause == cause for f in one.findings) for one in readings):
            findings.append(_shared(cause, 0.0, len(readings), tolerance, style, formers))
    return RunReading(len(readings), tuple(findings))


def _shared(name: str, mean: float, boards: int, tolerance: float, style: LengthStyle, formers: str) -> Finding:
    """Say what boards share, and what of the jig to look at."""
    all_ = f"{'Both' if boards == 2 else f'All {boards}'} boards of this run"
    by = at_least(abs(mean), style)
    these = f"formers {formers}" if formers else "the formers"
    first, _, last = name.partition(" ")
    where = first if first in ENDS else last
    at = f" at the {where}" if where else ""
    if where and "sides" in (first, last):
        words = f"{all_} are about {by} thicker at the {side_of(mean)} side{at}."
        look = f"Look where the centreline of {these} stands over the bed{at}, and for something stuck to the bed."
    elif where:
        lower = mean < 0 if last == "level" else mean > 0
        words = f"{all_} lie about {by} {'lower' if lower else 'higher'} at the edges{at} than their middle says."
        look = f"Look whether {these} are the ones meant, are worn, or stand on something, and at riser and packing."
    elif name == "centre":
        words = f"{all_} are about {by} too {'thick' if mean > 0 else 'thin'} in the middle."
        look = "Look how deep the cutter is set, and at riser and packing; prove the depth on the waste strip."
    else:
        what = {
            "crown": "have the same flattened or peaked crown",
            "sides": "have two unlike sides",
            "steps": "have steps",
            "hollow": "are hollow",
        }[name]
        words = f"{all_} {what}."
        look = f"Look at {these} for wear, and whether router and rails sit tight."
    helps = "That is the jig, not the boards: put it right before the next one is cut."
    return Finding("shared", where, words, look, helps, abs(mean), tolerance / 2, "rework")
