"""The geometry service as JSON: text in, text out, and never a traceback."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any, Final

from geometry.errors import GeometryError, Problem
from geometry.reader import Repeated, read_request
from geometry.result import INSIDE, Result
from geometry.workout import work_out_each

MOST_REQUESTS: Final = 100_000
_LONGEST_INTEGER: Final = 300  # figures; Python refuses to read very long ones, a float takes them as infinite


def answer(data: bytes | str) -> tuple[str, int]:
    """Answer one JSON text with another.

    Parameters
    ----------
    data : bytes or str
        A request, or an array of them; bytes are UTF-8.

    Returns
    -------
    text : str
        The result, or ``{"errors": [...]}``; for an array, an array of such in the same order.
    code : int
        0 if all could be worked out, 2 if anything could not.
    """
    return answer_each(data, _work_out)


def answer_each(data: bytes | str, work: Callable[[list], list[Any]]) -> tuple[str, int]:
    """Answer a JSON text by what ``work`` makes of the list of its requests: figures, or an error for each."""
    try:
        asked = load(data)
    except GeometryError as error:
        return _text(_errors(error)), 2
    answers = [_written(found) for found in work(asked if isinstance(asked, list) else [asked])]
    code = 2 if any("errors" in found for found in answers) else 0
    return _text(answers if isinstance(asked, list) else answers[0]), code


def not_read(error: Exception) -> tuple[str, int]:
    """Answer for an input that could not even be read."""
    reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return _text(_errors(GeometryError(Problem("", f"The input cannot be read: {reason}.")))), 2


def load(data: bytes | str) -> Any:
    """Parse a JSON text strictly.

    Raises
    ------
    GeometryError
        If it is no JSON text; field names are empty then.
    """
    try:
        text = data.decode("utf-8-sig") if isinstance(data, bytes) else data
        asked = json.loads(text, object_pairs_hook=_pairs, parse_constant=lambda _: math.nan, parse_int=_integer)
    except UnicodeDecodeError as error:
        raise GeometryError(Problem("", f"The input is not UTF-8: byte {error.start} cannot be read.")) from None
    except json.JSONDecodeError as error:
        message = f"The input is not JSON: {error.msg} at line {error.lineno}, column {error.colno}."
        raise GeometryError(Problem("", message)) from None
    except RecursionError:
        raise GeometryError(Problem("", "The input is nested too deeply.")) from None
    if isinstance(asked, list) and len(asked) > MOST_REQUESTS:
        raise GeometryError(Problem("", f"One array can hold {MOST_REQUESTS} requests at most."))
    return asked


def as_json(figures: Any) -> dict[str, Any]:
    """Put figures into the names and nesting of the contract."""
    return _plain(figures)


def _work_out(asked: list) -> list[Result | GeometryError]:
    """Read each request and work out those that can be read, all in one sweep."""
    answers: list[Result | GeometryError | None] = []
    requests = []
    for one in asked:
        try:
            requests.append(read_request(one))
            answers.append(None)
        except GeometryError as error:
            answers.append(error)
    worked_out = iter(work_out_each(requests))
    return [next(worked_out) if found is None else found for found in answers]


def _written(found: Any) -> dict[str, Any]:
    return _errors(found) if isinstance(found, GeometryError) else as_json(found)


def _errors(error: GeometryError) -> dict[str, Any]:
    return {"errors": [{"field": p.field, "message": p.message} for p in error.problems]}


def _text(found: Any) -> str:
    """Write JSON; escaped to ASCII, so that it prints whatever the terminal's encoding."""
    return json.dumps(found, allow_nan=False)


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """Make a dict of an object's pairs, remembering what was there twice."""
    found = dict(pairs)
    if len(found) == len(pairs):
        return found
    names = [name for name, _ in pairs]
    marked = Repeated(found)
    marked.twice = tuple(name for name in found if names.count(name) > 1)
    return marked


def _integer(figures: str) -> int | float:
    return int(figures) if len(figures) <= _LONGEST_INTEGER else float(figures)


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {said: _plain(getattr(value, name)) for name, said in _names_of(type(value))}
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    return value


@cache
def _names_of(kind: type) -> tuple[tuple[str, str], ...]:
    """List the fields of an answer that the contract has, each with its name there."""
    return tuple((f.name, _RENAMED.get(f.name, f.name)) for f in fields(kind) if not f.metadata.get(INSIDE))


_RENAMED: Final = {"number": "pass", "passed": "pass"}  # a word that Python keeps for itself
