"""Expressions as they stand in an explanation: written once, evaluated here, and set as an equation on a page.

They are written as Python writes them: ``t_f - (R - sqrt(R ** 2 - (W / 2) ** 2))``. Angles are degrees.
"""

from __future__ import annotations

import ast
import functools
import math
import operator
from collections.abc import Callable, Mapping
from typing import Final

JUST: Final = 1 - 1e-12  # what just fits needs no more for a last digit

_BINARY: Final[dict[type[ast.operator], Callable[[float, float], float]]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
    ast.Pow: operator.pow,
}


def _next_odd(value: float) -> float:
    count = math.ceil(value * JUST)
    return count + 1 - count % 2


FUNCTIONS: Final[dict[str, Callable[..., float]]] = {
    "sqrt": math.sqrt,
    "sin": lambda angle: math.sin(math.radians(angle)),
    "cos": lambda angle: math.cos(math.radians(angle)),
    "asin": lambda ratio: math.degrees(math.asin(ratio)),
    "atan": lambda ratio: math.degrees(math.atan(ratio)),
    "min": min,
    "max": max,
    "abs": abs,
    "next_odd": _next_odd,
    "round_up": lambda value: float(max(1, math.ceil(value * JUST))),
}
CONSTANTS: Final = {"pi": math.pi}


@functools.cache
def parse(expression: str) -> ast.expr:
    """Read an expression."""
    return ast.parse(expression, mode="eval").body


def evaluate(expression: str, values: Mapping[str, float]) -> float:
    """Evaluate an expression with the values of its symbols.

    Raises
    ------
    KeyError
        If a symbol has no value.
    ValueError
        If there is something in it that an explanation has no need of.
    """
    return float(_value(parse(expression), {**CONSTANTS, **values}))


def _value(node: ast.expr, values: Mapping[str, float]) -> float:
    match node:
        case ast.Constant(value=int() | float() as number):
            return number
        case ast.Name(id=name):
            return values[name]
        case ast.UnaryOp(op=ast.USub(), operand=operand):
            return -_value(operand, values)
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _BINARY:
            return _BINARY[type(op)](_value(left, values), _value(right, values))
        case ast.Call(func=ast.Name(id=name), args=args, keywords=[]) if name in FUNCTIONS:
            return FUNCTIONS[name](*(_value(each, values) for each in args))
    raise ValueError(f"An explanation has no need of {ast.unparse(node)}.")
