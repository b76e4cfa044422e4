"""How points lie off their circle: a flattened crown, two unlike sides, steps that the passes left."""

from __future__ import annotations

from typing import Final

import numpy as np

from geometry.circle import Circle
from geometry.findings import Finding, side_of, student
from geometry.units import LengthStyle
from geometry.words import at_least, at_most

LEAST_POINTS: Final = 7  # a circle takes three, two shapes two more, and two are left to tell them from scatter by
SCATTERS: Final = 4.0  # standard deviations over which a handful of readings spread
CALIPER: Final = 0.02  # mm, standard deviation of a caliper held by hand; common practice, no source


def patterns_in(
    y: np.ndarray, circle: Circle, scallop: float, reads_to: float, where: str, style: LengthStyle
) -> list[Finding]:
    """Look for shapes in how points lie off their circle.

    Parameters
    ----------
    y : ndarray, shape (points,)
        Places across the board, mm.
    circle : Circle
        The one that fits the points, with their residuals.
    scallop : float
        The highest ridge that the passes may leave, mm: a shape or a scatter that is less is theirs.
    reads_to : float
        Standard deviation of one reading, mm.
    where, style
        As in `geometry.gauging.read_station`.

    Notes
    -----
    Own derivation. The best circle takes up what is constant, straight and square in the heights. What a worn former
    leaves is of the next orders: the fourth where the crown is flattened or peaked (alike on both sides), the third
    where the two sides are not of one circle. So the residuals are fitted by the parts of y³ and y⁴ that are square to
    1, y and y², and each shape counts that is both sure and higher from its lowest to its highest than ``scallop``.
    What is left over and still spreads over more than scallop and scatter of the readings is steps.
    """
    residuals = np.array(circle.residuals)
    shapes = np.zeros((0, len(y)))
    amounts = errors = np.zeros(0)
    if len(set(y.tolist())) >= LEAST_POINTS:
        u = (y - y.mean()) / (np.ptp(y) / 2)
        basis, _ = np.linalg.qr(np.column_stack([u**power for power in range(5)]))
        shapes = basis[:, 3:].T
        amounts = shapes @ residuals
        left = residuals - amounts @ shapes
        error = max(np.sqrt(left @ left / (len(y) - 5)), reads_to)
        errors = np.full(2, error)
    findings, explained = [], np.zeros(len(y))
    for order, shape, amount, error in zip((3, 4), shapes, amounts, errors, strict=False):
        height = float(np.ptp(amount * shape))
        if abs(amount) <= student(len(y) - 5) * error or height <= scallop:
            continue
        explained = explained + amount * shape
        findings.append(_shape(order, amount * shape, y, height, scallop, where, style))
    left = residuals - explained
    spread = float(np.ptp(left))
    limit = scallop + SCATTERS * max(reads_to, CALIPER)
    if len(y) > 3 and spread > limit:
        words = (
            f"The points lie up to {at_least(spread, style)} apart from one another against their circle; the passes "
            f"should leave {at_most(scallop, style)}."
        )
        look = "Look for steps: a pass left out, a mark missed, or the router set lower on the way."
        helps = "Go over the passes that stand high once more, at the same depth."
        findings.append(Finding("steps", where, words, look, helps, spread, limit, "rework"))
    return findings


def _shape(
    order: int, shape: np.ndarray, y: np.ndarray, height: float, limit: float, where: str, style: LengthStyle
) -> Finding:
    by = at_least(height, style)
    if order == 3:
        high = side_of(float(np.dot(shape, y**3)))
        words = f"The two sides are not of one circle, by {by}: towards the {high} edge the board stands higher."
        look = "Look for a former worn at one side, and for tape that gave way or was laid double at one edge."
        return Finding("sides", where, words, look, "Cut again, held evenly.", height, limit, "rework")
    crown = shape[np.argmin(np.abs(y - y.mean()))] < 0
    words = f"The crown is {'flattened' if crown else 'peaked'} by {by} against one circle."
    worn = f"where the rails lie for the {'middle' if crown else 'outer'} passes"
    look = f"Look for a former worn {worn}, and hold a straightedge or another former against it."
    return Finding("crown", where, words, look, "A former cut anew would put it right.", height, limit, "rework")
