"""How each figure of a board was worked out: the equation, with the board's own numbers, step by step.

The numbers come from the request and the result. Each step is an expression that is evaluated as it stands, and the
tests hold what comes out against the figure that `geometry.workout` gave: an explanation cannot say anything else.
"""

from geometry.explained import air, blank, curve, fretboard, jig, slots, thickness  # noqa: F401 - they fill FIGURES
from geometry.explained.expression import evaluate
from geometry.explained.sheet import FIGURES, GROUPS, Explanation, Figure, Input, Sheet, Step, explain, figures_of

__all__ = [
    "FIGURES",
    "GROUPS",
    "Explanation",
    "Figure",
    "Input",
    "Sheet",
    "Step",
    "evaluate",
    "explain",
    "figures_of",
]
