"""Why a plan does not hold any more, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from boards.ordering import Queue, Run, due_on, is_soon
from boards.places import PLACES, Pieces

MOST_NAMED = 3  # boards that are named one by one


def why_stale(
    plan: Mapping[str, Any],
    left: Sequence[Run],
    *,
    came: Sequence[str],
    unlike: Mapping[str, tuple[str, ...]],
    now: Pieces,
    queue: Queue,
) -> list[str]:
    """Say why a plan does not hold any more; nothing while it does.

    Parameters
    ----------
    plan : mapping
        As the bench keeps it (`boards.plans.as_plan`).
    left : sequence of Run
        What is still to be done of it.
    came : sequence of str
        Boards that it does not know.
    unlike : mapping
        Boards of it that need something else by now, with the places of the machine where they do.
    now : mapping
        What stands.
    queue : Queue
        What waits.
    """
    words = []
    if came:
        words.append(f"{_counted(sorted(came))} came since.")
    alike: dict[str, list[str]] = {}
    for number, places in unlike.items():
        alike.setdefault(_other(queue.stage, places), []).append(number)
    for other, numbers in alike.items():
        words.append(f"{_counted(numbers)} now {'needs' if len(numbers) == 1 else 'need'} {other}.")
    then = {number: date.fromisoformat(due) for number, due in plan["due"].items()}
    dues = {board.blank.number: due_on(board) for run in left for board in run.boards}
    if moved := [number for number, due in dues.items() if due != then.get(number)]:
        words.append(f"{_counted(moved)} {'is' if len(moved) == 1 else 'are'} due on another day by now.")
    planned_on = date.fromisoformat(plan["day"])
    if pressing := [number for number in _waiting_behind(left) if not is_soon(dues[number], planned_on, queue.shop)]:
        pressing = [number for number in pressing if number not in moved]
        is_due = "is" if len(pressing) == 1 else "are"
        if pressing:
            words.append(f"{_counted(pressing)} {is_due} due within {queue.shop.horizon_days} days by now.")
    if not _stands_as_planned(plan, left, now, queue):
        words.append("Something else stands there than the plan goes by.")
    return words


def _counted(numbers: Sequence[str]) -> str:
    if len(numbers) > MOST_NAMED:
        return f"{len(numbers)} boards"
    return " and ".join([", ".join(numbers[:-1]), numbers[-1]] if numbers[1:] else numbers)


def _other(stage: str, places: Sequence[str]) -> str:
    """Name what is needed in place of what was planned."""
    if any(place.endswith("_former") for place in places):
        return "other formers"
    said = [place.name for place in PLACES[stage] if place.key in places]
    return " and ".join(f"another {name}" for name in said) or "something else"


def _waiting_behind(runs: Sequence[Run]) -> list[str]:
    """List the boards due inside the horizon that wait behind runs without any."""
    found, behind = [], False
    for run in runs:
        if run.pinned:
            continue
        if behind:
            found += run.soon
        behind = behind or not run.soon
    return found


def _stands_as_planned(plan: Mapping[str, Any], left: Sequence[Run], now: Pieces, queue: Queue) -> bool:
    """Tell whether what stands is what the plan began with, or what it has come to by now."""
    machine, keys = queue.machine, {run.key for run in left}
    runs = [run for run in plan["runs"] if machine.uses(run["pieces"])]
    before = {"pieces": plan["now"]}
    for run in runs:
        if run["key"] in keys:
            break
        before = run
    else:
        return True
    here = {place: now.get(place) for place in machine.minutes}
    ways = [way for pieces in (before["pieces"], run["pieces"]) for way in (pieces, machine.turned(pieces))]
    return any(here == {place: way.get(place) for place in machine.minutes} for way in ways)
