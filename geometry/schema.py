"""The JSON Schema of a request, built from the dataclasses and the limits that the reader goes by."""

from __future__ import annotations

import types
import typing
from dataclasses import MISSING, fields, is_dataclass
from typing import Any, Literal

from geometry.limits import LIMITS, LONGEST_NAME, MOST_FORMERS
from geometry.reader import NEEDS, hints_of
from geometry.request import Board, EndRadii, Request, TwoScales
from geometry.units import LONGEST_TEXT, length_pattern


def request_schema() -> dict[str, Any]:
    """Build the schema (draft 2020-12) of what `geometry.contract.answer` takes: a request, or an array of them.

    What a schema cannot say stays with the reader: how figures stand to one another, and whether a length that is
    written with its unit lies within the limits that are given beside it for numbers.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What the geometry service is asked",
        "description": "Lengths are numbers in millimetres, or strings that carry a unit, such as 25 1/2 in.",
        "oneOf": [{"$ref": "#/$defs/request"}, {"type": "array", "items": {"$ref": "#/$defs/request"}}],
        "$defs": {
            "request": {**_part(Request, ""), "dependentRequired": {part: [needed] for part, needed in NEEDS.items()}},
            "length": {"type": "string", "maxLength": LONGEST_TEXT, "pattern": length_pattern()},
        },
    }


def _part(kind: type, path: str) -> dict[str, Any]:
    """Describe an object read into the dataclass ``kind``."""
    specs = fields(kind)
    required = [f.name for f in specs if f.default is MISSING and f.default_factory is MISSING]
    properties = {}
    for spec in specs:
        field = f"{path}.{spec.name}" if path else spec.name
        properties[spec.name] = _field(kind, hints_of(kind)[spec.name], field)
        if isinstance(spec.default, float | int | str):
            properties[spec.name]["default"] = spec.default
    return {"type": "object", "properties": properties, "required": required, "additionalProperties": False}


def _field(kind: type, hint: Any, path: str) -> dict[str, Any]:
    """Describe one field by its type."""
    if kind is Board and path in ("board.scale", "board.radius"):
        one = _figure(path)
        others = [_part(TwoScales, path)] if path == "board.scale" else [_part(EndRadii, path), {"type": "null"}]
        return {**one, "anyOf": one["anyOf"] + others}
    origin, arguments = typing.get_origin(hint), typing.get_args(hint)
    if origin in (types.UnionType, typing.Union):
        return _part(arguments[0], path)
    if origin is tuple:
        return {"type": "array", "items": _part(arguments[0], path), "maxItems": MOST_FORMERS}
    if origin is Literal:
        return {"enum": list(arguments)}
    if is_dataclass(hint):
        return _part(hint, path)
    if hint is str:
        return {"type": "string", "minLength": 1, "maxLength": LONGEST_NAME, "pattern": r"\S"}
    return _figure(path)


def _figure(path: str) -> dict[str, Any]:
    """Describe a number, or a length written with its unit."""
    limit = LIMITS[path]
    words = limit.name[0].upper() + limit.name[1:]
    bounds = {"minimum": limit.least, "maximum": limit.most}
    if limit.kind == "length":
        return {"description": words, "anyOf": [{"type": "number", **bounds}, {"$ref": "#/$defs/length"}]}
    return {"description": words, "type": "integer" if limit.kind == "count" else "number", **bounds}
