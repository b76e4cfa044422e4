"""Expressions of `geometry.explained` set as equations: MathML Core, which browsers show and screen readers read."""

from __future__ import annotations

import ast
from collections.abc import Callable

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from geometry.explained.expression import parse
from geometry.explained.sheet import Explanation, Kind, Step
from geometry.units import LengthStyle, format_length, format_small, in_inches

_GREEK = {"theta": "θ", "delta": "δ", "rho": "ρ", "pi": "π"}
_SIGNS = {ast.Add: "+", ast.Sub: "−", ast.Mult: "·"}
_RANK = {ast.Add: 1, ast.Sub: 1, ast.Mult: 2, ast.Div: 4, ast.Pow: 3}  # a fraction needs no brackets within a product
_WORDS = {"next_odd": "the next odd number from ", "round_up": "rounded up: "}

Leaf = Callable[[str], str]


def symbol(name: str) -> SafeString:
    """Set a symbol: ``W_n`` as W with a small n."""
    return mark_safe(f"<math><mrow>{_symbol(name)}</mrow></math>")


def _symbol(name: str) -> str:
    letter, _, below = name.partition("_")
    base = f"<mi>{_GREEK.get(letter, letter)}</mi>"
    return f"<msub>{base}<mi>{below}</mi></msub>" if below else base


def equation(step: Step) -> SafeString:
    """Set a step with its symbols: what it is called, and what it is reckoned from."""
    return _set(step, _symbol)


def with_numbers(step: Step, told: Explanation, style: LengthStyle) -> SafeString:
    """Set a step with its numbers in the place of the symbols, and what comes out."""
    values, kinds = told.values, told.kinds

    def leaf(name: str) -> str:
        if name not in values:
            return _symbol(name)
        said = f"<mtext>{escape(number(values[name], kinds[name], style))}</mtext>"
        return f"<mrow><mo>(</mo>{said}<mo>)</mo></mrow>" if values[name] < 0 else said

    came_out = f"<mo>=</mo><mtext>{escape(number(step.value, step.kind, style))}</mtext>"
    only_taken = isinstance(parse(step.expression), ast.Name)
    return mark_safe(_set(step, leaf, "" if only_taken else came_out).replace("<mo>·</mo>", "<mo>×</mo>"))


def _set(step: Step, leaf: Leaf, after: str = "") -> SafeString:
    inside = f"{_symbol(step.symbol)}<mo>=</mo>{_node(parse(step.expression), leaf)}{after}"
    return mark_safe(f'<math display="block"><mrow>{inside}</mrow></math>')


def _node(node: ast.expr, leaf: Leaf, above: int = 0) -> str:
    match node:
        case ast.Constant(value=value):
            return f"<mn>{value}</mn>"
        case ast.Name(id=name):
            return leaf(name)
        case ast.UnaryOp(operand=operand):
            return _bracketed(f"<mo>−</mo>{_node(operand, leaf, 2)}", above > 0)
        case ast.BinOp(left=left, op=ast.Div(), right=right):
            return f"<mfrac><mrow>{_node(left, leaf)}</mrow><mrow>{_node(right, leaf)}</mrow></mfrac>"
        case ast.BinOp(left=left, op=ast.Pow(), right=right):
            base = _node(left, leaf, 4)
            base = _bracketed(base, isinstance(left, ast.BinOp) and isinstance(left.op, ast.Div))
            return f"<msup><mrow>{base}</mrow><mrow>{_node(right, leaf)}</mrow></msup>"
        case ast.BinOp(left=left, op=op, right=right):
            rank = _RANK[type(op)]
            # What follows a minus, or stands in a product, keeps its brackets.
            sides = _node(left, leaf, rank), _node(right, leaf, rank + isinstance(op, ast.Sub))
            return _bracketed(f"{sides[0]}<mo>{_SIGNS[type(op)]}</mo>{sides[1]}", rank < above)
        case ast.Call(func=ast.Name(id="sqrt"), args=[inner]):
            return f"<msqrt>{_node(inner, leaf)}</msqrt>"
        case ast.Call(func=ast.Name(id="abs"), args=[inner]):
            return f"<mrow><mo>|</mo>{_node(inner, leaf)}<mo>|</mo></mrow>"
        case ast.Call(func=ast.Name(id=name), args=args):
            inner = "<mo>,</mo>".join(_node(each, leaf) for each in args)
            called = (
                f"<mtext>{_WORDS[name]}</mtext>"
                if name in _WORDS
                else f"<mi>{name.replace('asin', 'arcsin').replace('atan', 'arctan')}</mi>"
            )
            return f"<mrow>{called}<mo>(</mo>{inner}<mo>)</mo></mrow>"
    raise ValueError(f"An equation has no form for {ast.unparse(node)}.")


def _bracketed(inside: str, needed: bool) -> str:
    return f"<mrow><mo>(</mo>{inside}<mo>)</mo></mrow>" if needed else inside


def number(value: float, kind: Kind, style: LengthStyle) -> str:
    """Write a number as it goes into an equation: as fine as it takes to reckon it again, and with its unit."""
    match kind:
        case "length" | "fine":
            metric = style is LengthStyle.MM
            amount = value if metric else float(in_inches(value))
            return f"{_trimmed(amount, 4 if metric else 5)} {'mm' if metric else 'in'}"
        case "angle":
            return f"{_trimmed(value, 4)}°"
        case "percent":
            return f"{_trimmed(value, 3)} %"
        case "celsius":
            return f"{_trimmed(value, 1)} °C"
        case "minutes":
            return f"{_trimmed(value, 2)} min"
        case "count":
            return f"{value:.0f}".replace("-", "−")
    return f"{value:.6g}".replace("-", "−")


def _trimmed(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text.replace("-", "−")


def as_shown(value: float, kind: Kind, style: LengthStyle) -> str:
    """Write a figure as pages and sheets show it."""
    match kind:
        case "length":
            return format_length(value, style)
        case "fine":
            return format_small(value, style, fine=True)
        case "angle":
            return f"{value:.2f}°"
        case "percent":
            return f"{value:.1f} %"
        case "minutes":
            return f"{value:.0f} min"
    return number(value, kind, style)
