"""What stages and setups took in a period, and how often machines were changed over."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from boards.lookback.setups import setup_key, setup_words
from boards.lookback.work import Run, Work
from shop.models import Shop
from shop.stages import STAGES


@dataclass(frozen=True, slots=True)
class Took:
    """What boards took somewhere: how many there were, of how many the log tells minutes, and their quartiles."""

    name: str
    boards: int
    told: int
    lower: float | None
    middle: float | None
    upper: float | None

    @classmethod
    def of(cls, name: str, works: Sequence[Work]) -> Took:
        """Take the quartiles of what the log tells."""
        told = [work.minutes for work in works if work.minutes is not None]
        quartiles = [float(each) for each in np.percentile(told, (25, 50, 75))] if told else [None] * 3
        return cls(name, len(works), len(told), *quartiles)


@dataclass(frozen=True, slots=True)
class Changes:
    """How often a machine was changed over, what that takes by the shop's habits, and the boards of a run."""

    name: str
    runs: int
    changes: int
    anew: int
    minutes: float
    boards: float


def by_stage(works: Iterable[Work]) -> list[Took]:
    """Say what each stage took."""
    sorted_ = _sorted(works, lambda work: work.stage)
    return [Took.of(stage.label, sorted_[key]) for key, stage in STAGES.items() if key in sorted_]


def by_setup(works: Iterable[Work], shop: Shop) -> list[tuple[str, list[Took]]]:
    """Say what each setup of each stage took, those with most boards first."""
    found = []
    sorted_ = _sorted(works, lambda work: work.stage)
    for key, stage in STAGES.items():
        if key == "gluing" or key not in sorted_:
            continue  # what was glued up with is not kept
        setups = _sorted(sorted_[key], lambda work: setup_key(work.run.pieces))
        took = [Took.of(setup_words(key, its[0].made, shop), its) for its in setups.values()]
        found.append((stage.label, sorted(took, key=lambda each: (-each.boards, each.name))))
    return found


def changeovers(works: Iterable[Work]) -> list[Changes]:
    """Count the runs of each stage and the changes before them."""
    runs: dict[str, list[Run]] = defaultdict(list)
    for work in works:
        if not runs[work.stage] or runs[work.stage][-1] is not work.run:
            runs[work.stage].append(work.run)
    found = []
    for key, stage in STAGES.items():
        if here := runs.get(key):
            changed = [run for run in here if run.changed]
            minutes, boards = sum(run.minutes for run in here), sum(len(run.boards) for run in here)
            anew = sum(run.anew for run in changed)
            found.append(Changes(stage.label, len(here), len(changed), anew, minutes, boards / len(here)))
    return found


def _sorted(works: Iterable[Work], by) -> dict[Hashable, list[Work]]:  # noqa: ANN001 - a function of a work
    found: dict[Hashable, list[Work]] = defaultdict(list)
    for work in works:
        found[by(work)].append(work)
    return found
