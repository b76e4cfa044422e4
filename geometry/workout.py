"""One request in, one result out: what the pages, the sheets and the command all call.

A single board is a stack of one, so that it gives the same figures by itself as among ten thousand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from geometry.allowances import Layout, lay_out, thickness_ledger
from geometry.checks import problems_in_fan, problems_in_layout, validate
from geometry.errors import GeometryError, StackError
from geometry.figures import Figures
from geometry.frets import FretLines, lay_frets
from geometry.measured import AsMeasured
from geometry.outline import width_at
from geometry.passes import lay_fan
from geometry.request import Request
from geometry.result import Result
from geometry.rigging import rig
from geometry.slots import SlotEnds, cut_slots
from geometry.stack import Stack, stacked
from geometry.surface import radius_at, sagitta_within
from geometry.tops import Measures, Tops, measures_of, put_in
from geometry.units import LengthStyle
from geometry.unstack import results


def work_out_stack(stack: Stack, style: LengthStyle = LengthStyle.MM, measures: Measures | None = None) -> Figures:
    """Work out a stack of boards in one sweep over its arrays.

    Parameters
    ----------
    stack : Stack
        The boards; figures within `geometry.limits`.
    style : LengthStyle
        How lengths are written in the words of an error.
    measures : Measures, optional
        What was read of the boards by now; it stands in the place of what was planned.

    Returns
    -------
    Figures
        Arrays with a row for each board. Columns past a board's last fret hold the frets that would follow; only
        ``stack.frets`` says which are there.

    Raises
    ------
    StackError
        If a board cannot be: its problems by row.
    """
    lines = lay_frets(stack)
    with np.errstate(all="ignore"):  # what a bad board leaves here is turned into words before anything uses it
        layout = lay_out(stack, lines)
        by_row = problems_in_layout(stack, lines, layout, style)
    if by_row:
        raise StackError(by_row)
    fan, fan_rows = None, np.flatnonzero(stack.cutter_diameter > 0)
    if fan_rows.size:
        ends = layout.radius_head[fan_rows], layout.radius_heel[fan_rows]
        cutter, scallop = stack.cutter_diameter[fan_rows], stack.scallop_max[fan_rows]
        fan = lay_fan(ends, layout.blank_width[fan_rows], cutter, scallop)
        if by_row := problems_in_fan(fan, fan_rows):
            raise StackError(by_row)
    width, radius = shape_at(stack, lines, lines.centre)
    sagitta = drop = sagitta_within(radius, width)
    if lines.fanned:
        drop = np.maximum(*(sagitta_at(stack, lines, x) for x in (lines.bass, lines.treble)))
    planned = ledger = thickness_ledger(stack)
    tops = ends = None
    if measures is not None:
        stack, tops = put_in(stack, measures)
        ledger = thickness_ledger(stack)
        ledger = replace(ledger, intake_min=np.maximum(planned.intake_min, ledger.before_radiusing))
        ends = _slot_ends(stack, lines, layout, tops, sagitta)
    edges = stack.thickness[:, None] - sagitta_at(stack, lines, np.stack((layout.head, layout.heel), axis=1))
    return Figures(
        stack=stack,
        ledger=ledger,
        planned=planned,
        lines=lines,
        layout=layout,
        slots=cut_slots(stack, ledger, drop[:, 1:], ends, tops),
        bite=stack.skim if tops is None else stack.skim + tops.spread,
        width=width,
        radius=radius,
        sagitta=sagitta,
        edge=stack.thickness[:, None] - drop,
        edge_head=edges[:, 0],
        edge_heel=edges[:, 1],
        corner_head=ledger.after_radiusing - sagitta_within(layout.radius_head, layout.blank_width),
        corner_heel=ledger.after_radiusing - sagitta_within(layout.radius_heel, layout.blank_width),
        fan=fan,
        fan_rows=fan_rows,
    )


def _slot_ends(stack: Stack, lines: FretLines, layout: Layout, tops: Tops, sagitta: np.ndarray) -> SlotEnds:
    """How low the finished board lies at the two ends of each slot, and how high its flat top."""
    if not lines.fanned:
        return SlotEnds(sagitta[None, :, 1:], tops.rise_at(lines.centre[:, 1:], layout)[None])
    sides = lines.bass, lines.treble
    drop = np.stack([sagitta_at(stack, lines, x)[:, 1:] for x in sides])
    return SlotEnds(drop, np.stack([tops.rise_at(x[:, 1:], layout) for x in sides]))


def shape_at(stack: Stack, lines: FretLines, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Width and radius of each board at its row of distances from the nut face, mm."""
    length = lines.length[:, None]
    width = width_at(x, stack.nut_width[:, None], stack.heel_width[:, None], length)
    return width, radius_at(x, stack.nut_radius[:, None], stack.heel_radius[:, None], length)


def sagitta_at(stack: Stack, lines: FretLines, x: np.ndarray) -> np.ndarray:
    """How much lower each board's edge is than its middle, at its row of distances from the nut face, mm."""
    width, radius = shape_at(stack, lines, x)
    return sagitta_within(radius, width)


def work_out(
    request: Request,
    style: LengthStyle = LengthStyle.MM,
    standing: tuple[str, str] | None = None,
    measured: AsMeasured | None = None,
) -> Result:
    """Work out one board.

    Parameters
    ----------
    request : Request
        The board, and what the shop allows for it.
    style : LengthStyle
        How lengths are written in the words of warnings and errors; the figures are millimetres.
    standing : pair of str, optional
        Names of the formers that stand on the jig now, head end first: of equally good setups, the one nearest to it
        is chosen.
    measured : AsMeasured, optional
        What was read of the board by now: it stands in the place of what was planned.

    Raises
    ------
    GeometryError
        If it cannot be: everything that is wrong, with the field names of the JSON contract.
    """
    (answer,) = work_out_each([request], style, standing, [measured])
    if isinstance(answer, GeometryError):
        raise answer
    return answer


def work_out_many(
    requests: Sequence[Request],
    style: LengthStyle = LengthStyle.MM,
    standing: tuple[str, str] | None = None,
    measured: Sequence[AsMeasured | None] | None = None,
) -> list[Result]:
    """Work out many boards, with the same answers as one by one; ``measured`` has a place for each.

    Raises
    ------
    StackError
        If any of them cannot be worked out.
    """
    answers = work_out_each(requests, style, standing, measured)
    wrong = {row: list(answer.problems) for row, answer in enumerate(answers) if isinstance(answer, GeometryError)}
    if wrong:
        raise StackError(wrong)
    return answers


def work_out_each(
    requests: Sequence[Request],
    style: LengthStyle = LengthStyle.MM,
    standing: tuple[str, str] | None = None,
    measured: Sequence[AsMeasured | None] | None = None,
) -> list[Result | GeometryError]:
    """Work out what can be worked out of many boards; an error stands in the place of each that cannot.

    ``measured`` has a place for each board: what was read of it by now, or None.
    """
    read = measured or [None] * len(requests)
    answers: list[Result | GeometryError | None] = [None] * len(requests)
    rows = []
    for row, request in enumerate(requests):
        if problems := validate(request, style):
            answers[row] = GeometryError(*problems)
        else:
            rows.append(row)
    while rows:
        asked, found = [requests[row] for row in rows], [read[row] for row in rows]
        try:
            figures = work_out_stack(stacked(asked), style, measures_of(found))
            rigs = rig(asked, figures, style, standing)
        except StackError as error:
            for place, problems in error.by_row.items():
                answers[rows[place]] = GeometryError(*problems)
            rows = [row for place, row in enumerate(rows) if place not in error.by_row]
            continue
        for row, result in zip(rows, results(asked, figures, rigs, style, found), strict=True):
            answers[row] = result
        break
    return answers
