"""The stages that a blank goes through, in the trade's words, and the routes made of them.

Troubles are common practice, no source.

To add a stage: give it an entry in `STAGES`, its readings in `boards/readings.py`, and a line on the strip
(`boards/strip/`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage of the work: how it is called, asked for and spoken of when done; what goes wrong there, mostly."""

    key: str
    label: str
    done: str
    does: str
    cautions: tuple[str, ...]
    troubles: tuple[str, ...]

    @property
    def reminder(self) -> str:
        """What every list of cautions ends with."""
        return REMINDER


MACHINE = (
    "Isolate the machine before you change a cutter or blade. Guard on, eyes and ears protected, no gloves near "
    "anything that turns."
)
DUST = (
    "Extraction on, mask on: many fretboard woods are sensitisers and hardwood dust is classed as carcinogenic. "
    "Resin-bonded paper board makes harmful dust as well."
)

STAGES: dict[str, Stage] = {
    stage.key: stage
    for stage in (
        Stage(
            "thicknessing",
            "Thicknessing",
            "thicknessed",
            "Both faces flat and parallel",
            (MACHINE, DUST, "Hold the work so that it cannot lift, and stand clear of its line."),
            ("Tear-out", "Snipe at an end", "Too thin", "A crack or a shake"),
        ),
        Stage(
            "slotting",
            "Slotting",
            "slotted",
            "Fret slots sawn to depth",
            (MACHINE, DUST, "Prove the depth on the waste strip beyond the heel first."),
            ("A slot too shallow", "A slot too deep", "A slot out of place", "Tear-out"),
        ),
        Stage(
            "radiusing",
            "Radiusing",
            "radiused",
            "The crosswise curve cut on the jig",
            (
                MACHINE,
                DUST,
                "Fix the board with tape, or tape and glue, and try by hand that it holds first.",
                "Feed against the cutter's turn. Prove the depth on the waste strip beyond the heel first.",
            ),
            ("Tear-out at an edge", "Off the centreline", "Steps left by the passes", "Too thin"),
        ),
        Stage(
            "tapering",
            "Tapering",
            "tapered",
            "Cut to the neck's outline, proud by the edge allowance",
            (MACHINE, DUST, "Lay the template on the centreline, not on an edge."),
            ("Off the centreline", "Too narrow", "Tear-out"),
        ),
        Stage(
            "gluing",
            "Gluing",
            "glued",
            "Glued to the neck",
            (
                "Cyanoacrylate, its accelerator and epoxy: fresh air, gloves that suit the glue, eyes protected.",
                "Dry fit first. Cauls of the right radius. Keep glue out of the slots.",
            ),
            ("It crept", "A gap in the joint", "Glue in the slots"),
        ),
    )
}

REMINDER = (
    "These are reminders, not instructions: the machine's manual, your local codes and licensed practice come first."
)


def route_trouble(stages: Sequence[str]) -> list[str]:
    """Say what trouble an order of stages is known to bring (common practice, no source)."""
    place = {key: index for index, key in enumerate(stages)}
    trouble = []

    def before(first: str, second: str) -> bool:
        return first in place and second in place and place[first] < place[second]

    if before("tapering", "radiusing"):
        trouble.append("Tapering before radiusing leaves no waste at the edges for tear-out to fall in.")
    if before("gluing", "radiusing"):
        trouble.append("Radiusing on the neck: take the riser out, and carry the neck so that it cannot bow.")
    if before("slotting", "thicknessing") or before("radiusing", "thicknessing"):
        trouble.append("Thicknessing after a cut takes away the face that the cut was measured from.")
    if before("gluing", "slotting"):
        trouble.append("Slotting on the neck has no square edge to run against.")
    if before("gluing", "tapering"):
        trouble.append("Tapering on the neck is done against the neck itself: mind its edges.")
    return trouble
