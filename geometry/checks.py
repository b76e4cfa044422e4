"""What is wrong with a request: everything at once, in words, beside the field it belongs to."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from numbers import Real

import numpy as np

from geometry.allowances import Layout
from geometry.clashes import jig_at_odds, rails_beside
from geometry.errors import Problem
from geometry.frets import FretLines, distance_from_nut
from geometry.limits import LONGEST_NAME, MOST_FORMERS, limit_of
from geometry.outline import width_at
from geometry.passes import MOST_PASSES, Fan
from geometry.request import Board, Request, TwoScales
from geometry.stack import Stack
from geometry.surface import radius_at
from geometry.units import LengthStyle
from geometry.words import at_least, at_most, say


def validate(request: Request, style: LengthStyle = LengthStyle.MM) -> list[Problem]:
    """Find what is wrong with the figures of a request, as far as it can be seen without working it out.

    Parameters
    ----------
    request : Request
        What is asked.
    style : LengthStyle
        How lengths are written in the messages.

    Returns
    -------
    list of Problem
        With the field names of the JSON contract. Two equal end radii count as one field, ``board.radius``.
    """
    problems = [p for field, value in _figures(request) if (p := check_figure(field, value, style))]
    problems += _wrong_words(request)
    if not problems:  # how the figures stand to one another can be asked of good figures only
        problems += _at_odds(request, style)
    return problems


def check_figure(field: str, value: object, style: LengthStyle = LengthStyle.MM) -> Problem | None:
    """Check one figure against its limits; ``field`` may carry the place in a list (``formers[2].radius``)."""
    limit = limit_of(field)
    name = limit.name[0].upper() + limit.name[1:]
    if isinstance(value, bool) or not isinstance(value, Real):
        return Problem(field, f"{name} must be a number.")
    try:
        value = float(value)
    except OverflowError:  # an integer with hundreds of figures
        value = math.inf
    if not math.isfinite(value):
        return Problem(field, f"{name} must be a number that can be written out.")
    if limit.kind == "count" and not value.is_integer():
        return Problem(field, f"{name} must be a whole number.")
    if limit.least <= value <= limit.most:
        return None
    if limit.kind == "length":
        return Problem(field, f"{name} must be from {say(limit.least, style)} to {say(limit.most, style)}.")
    return Problem(field, f"{name} must be from {limit.least:g} to {limit.most:g}.")


def check_name(field: str, value: object) -> Problem | None:
    """Check the name of a former."""
    if isinstance(value, str) and value.strip() and len(value) <= LONGEST_NAME:
        return None
    return Problem(field, f"A former needs a name of 1 to {LONGEST_NAME} characters.")


def _figures(request: Request) -> Iterator[tuple[str, object]]:
    """Go through the figures of a request with their fields."""
    board = request.board
    if isinstance(board.scale, TwoScales):
        yield from _leaves("board.scale", board.scale)
    else:
        yield "board.scale", board.scale
    for name in ("frets", "nut_width", "heel_width", "overhang", "nut_ledge", "thickness"):
        yield f"board.{name}", getattr(board, name)
    if board.radius is not None:
        if board.radius.nut == board.radius.heel:
            yield "board.radius", board.radius.nut
        else:
            yield from _leaves("board.radius", board.radius)
    yield from _leaves("wire", request.wire)
    yield "web_min", request.web_min
    yield from _leaves("allowances", request.allowances)
    yield "scallop_max", request.scallop_max
    for name in ("blank", "cutter", "jig", "climate"):
        if (part := getattr(request, name)) is not None:
            yield from _leaves(name, part)
    for number, former in enumerate(request.formers):
        yield from _leaves(f"formers[{number}]", former)


def _leaves(path: str, part: object) -> Iterator[tuple[str, object]]:
    for name in part.__dataclass_fields__:
        if name not in ("name", "grain"):
            yield f"{path}.{name}", getattr(part, name)


def _wrong_words(request: Request) -> Iterator[Problem]:
    """Check what is chosen or named, and what one part needs of another."""
    if request.slotting not in ("before radiusing", "after radiusing"):
        yield Problem("slotting", "Slotting is either before radiusing or after radiusing.")
    if request.climate is not None and request.climate.grain not in ("quarter", "rift", "flat"):
        yield Problem("climate.grain", "The grain is quarter, rift or flat.")
    if request.jig is not None and request.cutter is None:
        yield Problem("cutter", "The jig cannot be worked out without its cutter.")
    if request.formers and request.jig is None:
        yield Problem("jig", "The formers cannot be placed without their jig.")
    if len(request.formers) > MOST_FORMERS:
        yield Problem("formers", f"There can be {MOST_FORMERS} formers at most.")
    seen = set()
    for number, former in enumerate(request.formers):
        field = f"formers[{number}].name"
        if problem := check_name(field, former.name):
            yield problem
        elif former.name in seen:
            yield Problem(field, "Two formers have this name; add to the count instead, or name one otherwise.")
        else:
            seen.add(former.name)


def _at_odds(request: Request, style: LengthStyle) -> Iterator[Problem]:
    """Check figures that are good by themselves against one another."""
    board = request.board
    if isinstance(board.scale, TwoScales) and 2 * board.scale.inset >= min(board.nut_width, board.heel_width):
        yield Problem("board.scale.inset", "The outer strings meet before they leave the board; set them in less.")
    gap = _last_gap(board)
    if request.wire.kerf >= gap:
        message = f"The last two slots are {at_most(gap, style)} apart, so slots this wide run into one another."
        yield Problem("wire.kerf", message)
    yield from _jig_at_odds(request, style)
    if request.climate is not None and request.climate.season_low > request.climate.season_high:
        yield Problem("climate.season_low", "The driest season is damper than the dampest; change them over.")


def _jig_at_odds(request: Request, style: LengthStyle) -> Iterator[Problem]:
    """Check how the jig and its formers were measured."""
    if request.jig is None:
        return
    for problem in jig_at_odds(request.jig, style):
        yield Problem(f"jig.{problem.field}", problem.message)
    for number, former in enumerate(request.formers):
        if problem := rails_beside(request.jig, former.radius, style):
            yield Problem(f"formers[{number}].{problem.field}", problem.message)


def _last_gap(board: Board) -> float:
    """Distance between the last two frets, on the shorter scale."""
    scale = min(board.scale.bass, board.scale.treble) if isinstance(board.scale, TwoScales) else board.scale
    return float(distance_from_nut(scale, board.frets) - distance_from_nut(scale, board.frets - 1))


def problems_in_layout(
    stack: Stack, lines: FretLines, layout: Layout, style: LengthStyle = LengthStyle.MM
) -> dict[int, list[Problem]]:
    """Find what is wrong with boards once they are laid out, by row of the stack.

    Radius and width are both linear along a board, so a chord that fits its circle at both ends fits everywhere.
    """
    problems: dict[int, list[Problem]] = defaultdict(list)
    for row in np.flatnonzero(~lines.settled):
        message = "The board widens too fast for its length for frets to be fanned over it."
        problems[row].append(Problem("board.scale", message))
    for row in np.flatnonzero(lines.settled & ~lines.orderly):
        message = "The two scale lengths are so unlike that frets would cross on the board."
        problems[row].append(Problem("board.scale", message))
    for end, field in (("head", "nut"), ("heel", "heel")):
        x = getattr(layout, end)
        width = width_at(x, stack.nut_width, stack.heel_width, lines.length)
        radius = radius_at(x, stack.nut_radius, stack.heel_radius, lines.length)
        for row in np.flatnonzero(~(width < 2 * radius)):
            message = (
                f"At the {end} end a radius of {at_most(max(radius[row], 0), style)} cannot span a board "
                f"{at_least(width[row], style)} wide; the radius must be more than half the width."
            )
            _add(problems[row], Problem(_radius_field(stack, row, field), message))
    for end, field in (("head", "nut"), ("heel", "heel")):
        radius = getattr(layout, f"radius_{end}")
        for row in np.flatnonzero(~(layout.blank_width < 2 * radius)):
            where = "blank.width" if stack.blank_width[row] > 0 else _radius_field(stack, row, field)
            message = (
                f"At the {end} end of the blank the radius is down to {at_most(max(radius[row], 0), style)}, "
                f"which cannot span the blank's {at_least(layout.blank_width[row], style)}."
            )
            _add(problems[row], Problem(where, message))
    return problems


def _radius_field(stack: Stack, row: int, end: str) -> str:
    """Name the field of a board's radius at one end; equal ends are one field."""
    return "board.radius" if stack.nut_radius[row] == stack.heel_radius[row] else f"board.radius.{end}"


def _add(problems: list[Problem], problem: Problem) -> None:
    """Add a problem, unless there is one beside that field already, or the frets themselves cannot be laid."""
    if not any(p.field in (problem.field, "board.scale") for p in problems):
        problems.append(problem)


def problems_in_fan(fan: Fan, rows: Sequence[int]) -> dict[int, list[Problem]]:
    """Find fans so fine that nobody means them, by row of the stack (``rows`` are those of the fan)."""
    message = f"This would take more than {MOST_PASSES} passes; a larger cutter or a higher scallop takes fewer."
    return {int(rows[i]): [Problem("scallop_max", message)] for i in np.flatnonzero(~(fan.count <= MOST_PASSES))}
