"""The jig set up for boards: what each asks of it, and what the rack has to offer."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from geometry.errors import Problem, StackError
from geometry.figures import Figures
from geometry.jig import ToMake, Work, to_make
from geometry.rack import choose
from geometry.request import Former, Jig, Request
from geometry.result import FormerToMake, Setup
from geometry.units import LengthStyle
from geometry.words import at_least, at_most


@dataclass(frozen=True, slots=True)
class Rig:
    """The jig for one board: the setup chosen, its two formers, and the exact pair to make."""

    setup: Setup | None
    formers: tuple[Former, Former] | None
    formers_to_make: tuple[FormerToMake, ...]


def rig(
    requests: Sequence[Request], figures: Figures, style: LengthStyle, standing: tuple[str, str] | None = None
) -> dict[int, Rig]:
    """Set the jig up for those boards of a stack that have one, by row of the stack.

    Boards that share a jig and a rack are worked out together.

    Raises
    ------
    StackError
        If a jig cannot cut a board at all.
    """
    shared: dict[tuple[Jig, tuple[Former, ...]], list[int]] = defaultdict(list)
    for row, request in enumerate(requests):
        if request.jig is not None:
            shared[request.jig, request.formers].append(row)
    found: dict[int, Rig] = {}
    wrong: dict[int, list[Problem]] = {}
    for (jig, formers), rows in shared.items():
        work = work_of(figures, np.array(rows))
        made = to_make(jig, work)
        for place, problem in problems_on_jig(jig, work, made, style):
            wrong.setdefault(rows[place], []).append(problem)
        found.update(zip(rows, _rigs(jig, formers, work, made, standing), strict=True))
    if wrong:
        raise StackError(wrong)
    return found


def work_of(figures: Figures, rows: np.ndarray) -> Work:
    """Take from a worked-out stack what a jig needs to know of some rows, all of which have a cutter."""
    stack, layout = figures.stack, figures.layout
    fan = np.searchsorted(figures.fan_rows, rows)
    return Work(
        length=figures.lines.length[rows],
        blank_head=layout.blank_head[rows],
        blank_heel=layout.blank_heel[rows],
        nut_width=stack.nut_width[rows],
        heel_width=stack.heel_width[rows],
        nut_radius=stack.nut_radius[rows],
        heel_radius=stack.heel_radius[rows],
        thickness=figures.ledger.after_radiusing[rows],
        before=(figures.ledger.after_radiusing + figures.bite)[rows],
        half_angle=figures.fan.half_angle[fan],
        blank_width=layout.blank_width[rows],
    )


def problems_on_jig(jig: Jig, work: Work, made: ToMake, style: LengthStyle) -> Iterator[tuple[int, Problem]]:
    """Find boards that this jig, as measured, cannot cut with any formers at all: place in the work, and problem."""
    top = jig.riser + jig.packing + work.before
    over = jig.rail_spacing - jig.rail_diameter < work.blank_width
    bottom = jig.rail_plane - np.where(over, jig.rail_diameter / 2, 0.0)
    for place in range(len(top)):
        if bottom[place] <= top[place]:
            message = (
                f"The top of the board lies {at_least(top[place], style)} above the bed, and the rails come down to "
                f"{at_most(bottom[place], style)}, so they would run into it. Measure the rail plane, the riser and "
                "the packing again."
            )
            yield place, Problem("jig.rail_plane", message)
            continue
        for end, name in enumerate(("nut", "heel")):
            if made.rail_radius[place, end] <= 0:
                message = (
                    f"Carried on to the former beyond the {name}, the radius comes down to nothing. "
                    "The radii of the two ends are too unlike for a jig of this span."
                )
                yield place, Problem(f"board.radius.{name}", message)
                break
        else:
            lowest = float(made.lowest[place].min())
            if lowest < 0:
                message = (
                    f"A former for this board would reach {at_least(-lowest, style)} below the bed at its sides. "
                    "A higher rail plane would do, or rails that stand closer."
                )
                yield place, Problem("jig.rail_plane", message)


def _rigs(
    jig: Jig, formers: tuple[Former, ...], work: Work, made: ToMake, standing: tuple[str, str] | None
) -> Iterator[Rig]:
    """Set up one jig for the boards that share it."""
    choice = choose(jig, formers, work, standing)
    columns = (choice.nut_at, choice.nut_radius, choice.heel_radius, choice.edge_error, choice.drift, choice.worst)
    exact = np.stack((made.radius, made.apex, made.half_width), axis=-1).tolist()
    for head, heel, figures, pair in zip(
        choice.head.tolist(), choice.heel.tolist(), np.stack(columns, axis=-1).tolist(), exact, strict=True
    ):
        setup = ends = None
        if head >= 0:
            ends = formers[head], formers[heel]
            *shown, worst = figures
            setup = Setup(ends[0].name, ends[1].name, *shown, fits=worst <= jig.edge_tolerance + 1e-12)
        to_make_ = tuple(
            FormerToMake(end, radius if np.isfinite(radius) else None, apex, half_width)
            for end, (radius, apex, half_width) in zip(("head", "heel"), pair, strict=True)
        )
        yield Rig(setup, ends, to_make_)
