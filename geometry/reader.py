"""A parsed JSON value made into a request, by the fields of the dataclasses themselves.

A field that is added to `geometry.request` is read here without another word; its limits come from
`geometry.limits`, through the same checks that the pages use.
"""

from __future__ import annotations

import types
import typing
from dataclasses import MISSING, fields, is_dataclass
from functools import cache
from typing import Any, Final, Literal

from geometry.checks import check_figure, check_name
from geometry.errors import GeometryError, LengthError, Problem
from geometry.limits import limit_of
from geometry.request import Board, EndRadii, Request, TwoScales
from geometry.units import parse_length

NEEDS: Final = {"jig": "cutter", "formers": "jig"}
_LONGEST_ECHO: Final = 40


@cache
def hints_of(part: type) -> dict[str, Any]:
    """Look up the types of a dataclass's fields."""
    return typing.get_type_hints(part)


class Repeated(dict):
    """A JSON object of which some keys were given twice."""

    twice: tuple[str, ...] = ()


def read_request(asked: Any) -> Request:
    """Make a request of a parsed JSON value.

    Raises
    ------
    GeometryError
        With everything in it that is missing, unknown, of the wrong type or out of range.
    """
    problems: list[Problem] = []
    request = read_part(Request, asked, "", problems)
    if isinstance(asked, dict):
        for part, needed in NEEDS.items():
            if part in asked and needed not in asked:
                problems.append(Problem(needed, f"This is missing; {part} cannot be worked out without it."))
    if problems:
        raise GeometryError(*problems)
    return request


def read_part(kind: type, asked: Any, path: str, problems: list[Problem]) -> Any:
    """Read an object into the dataclass ``kind``; None if anything in it is wrong."""
    if not isinstance(asked, dict):
        problems.append(Problem(path, "This must be an object."))
        return None
    before = len(problems)
    known = {f.name: f for f in fields(kind)}
    for name in asked:
        if name not in known:
            shown = name if len(name) <= _LONGEST_ECHO else f"{name[:_LONGEST_ECHO]}…"
            problems.append(Problem(_join(path, shown), "There is no such field."))
    for name in getattr(asked, "twice", ()):
        if name in known:
            problems.append(Problem(_join(path, name), "This field is there twice."))
    hints = hints_of(kind)
    found = {}
    for name, spec in known.items():
        if name in asked:
            found[name] = _read_field(kind, hints[name], asked[name], _join(path, name), problems)
        elif spec.default is MISSING and spec.default_factory is MISSING:
            problems.append(Problem(_join(path, name), "This is missing."))
    return kind(**found) if len(problems) == before else None


def _read_field(kind: type, hint: Any, asked: Any, path: str, problems: list[Problem]) -> Any:
    """Read one field by its type."""
    if kind is Board and path.endswith((".scale", ".radius")):
        return _read_ends(hint, asked, path, problems)
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):  # optional: what is not there is left out, so it is never null
        return read_part(arguments[0], asked, path, problems)
    if origin is tuple:
        return _read_list(arguments[0], asked, path, problems)
    if origin is Literal:
        return _read_choice(arguments, asked, path, problems)
    if is_dataclass(hint):
        return read_part(hint, asked, path, problems)
    if hint is str:
        return _read_name(asked, path, problems)
    return read_figure(asked, path, problems)


def _read_ends(hint: Any, asked: Any, path: str, problems: list[Problem]) -> Any:
    """Read a scale or a radius: one length for the whole board, or an object for its two sides or ends."""
    if isinstance(asked, dict):
        return read_part(TwoScales if path.endswith("scale") else EndRadii, asked, path, problems)
    if path.endswith("scale"):
        return read_figure(asked, path, problems)
    if asked is None:
        return None
    radius = read_figure(asked, path, problems)
    return EndRadii(radius, radius)


def _read_list(kind: type, asked: Any, path: str, problems: list[Problem]) -> tuple:
    if not isinstance(asked, list):
        problems.append(Problem(path, "This must be an array."))
        return ()
    return tuple(read_part(kind, one, f"{path}[{place}]", problems) for place, one in enumerate(asked))


def _read_choice(choices: tuple[str, ...], asked: Any, path: str, problems: list[Problem]) -> Any:
    if asked not in choices:
        problems.append(Problem(path, f"This must be one of: {', '.join(choices)}."))
    return asked


def _read_name(asked: Any, path: str, problems: list[Problem]) -> Any:
    if problem := check_name(path, asked):
        problems.append(problem)
    return asked


def read_figure(asked: Any, path: str, problems: list[Problem], *, below: bool = False) -> Any:
    """Read a number, or a length written with its unit; ``below`` says whether it may lie below nothing."""
    limit = limit_of(path)
    if isinstance(asked, str) and limit.kind == "length":
        try:
            asked = float(parse_length(asked, None, allow_negative=below))
        except LengthError as error:
            problems.append(Problem(path, error.problems[0].message))
            return None
    if problem := check_figure(path, asked):
        problems.append(problem)
        return None
    return int(asked) if limit.kind == "count" else float(asked)


def _join(path: str, name: str) -> str:
    return f"{path}.{name}" if path else name
