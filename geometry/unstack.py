"""From the arrays of a stack to one result for each board."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import fields, replace

import numpy as np

from geometry import result as answer
from geometry.cautions import cautions
from geometry.figures import Figures
from geometry.measured import AsMeasured, Rests, rests_on
from geometry.moisture import in_the_air
from geometry.passes import depth_levels
from geometry.request import Former, Request
from geometry.rigging import Rig
from geometry.units import LengthStyle


def results(
    requests: Sequence[Request],
    figures: Figures,
    rigs: dict[int, Rig],
    style: LengthStyle,
    measured: Sequence[AsMeasured | None],
) -> Iterator[answer.Result]:
    """Take a worked-out stack apart, board by board, and add what there is to warn of."""
    boards = _boards(figures)
    ledgers = _rows(answer.ThicknessLedger, figures.ledger)
    slots, layout = figures.slots, figures.layout
    slot_rows = _zipped(slots.setting, slots.deepest, slots.web_least, slots.void)
    needed = _zipped(layout.needed_length, layout.needed_width, figures.planned.intake_min)
    corners = _zipped(figures.corner_head, figures.corner_heel)
    edges = _zipped(figures.edge_head, figures.edge_heel)
    fans = _fans(figures, rigs)
    for row, request in enumerate(requests):
        on_jig = rigs.get(row)
        size = answer.Size(*next(needed))
        found = answer.Result(
            board=next(boards),
            thickness=next(ledgers),
            slots=answer.SlotFigures(*next(slot_rows)),
            blank_needed=size,
            blank_margin=request.blank and size.margin_of(request.blank),
            corners=answer.CornerFigures(*next(corners)),
            passes=fans.get(row),
            setup=on_jig and on_jig.setup,
            formers_to_make=on_jig and on_jig.formers_to_make,
            climate=request.climate and in_the_air(request.climate, request.board.heel_width),
            warnings=(),
            rests=_rests(row, request, figures, measured[row]),
        )
        yield replace(found, warnings=tuple(cautions(request, found, next(edges), style)))


def _rests(row: int, request: Request, figures: Figures, measured: AsMeasured | None) -> Rests | None:
    """Tell which figures of a board rest on what was read of it; None where nothing was."""
    if measured is None or measured.nothing:
        return None
    planned, now = (
        (float(ledger.after_radiusing[row]), float(ledger.finished[row]))
        for ledger in (figures.planned, figures.ledger)
    )
    flat_slots = request.slotting == "before radiusing"
    slots = figures.slots
    return rests_on(measured, flat_slots, planned, now, float(slots.seat[row]), int(slots.weakest[row]))


def _zipped(*columns: np.ndarray) -> Iterator[tuple]:
    """Go through arrays row by row, as plain numbers."""
    return zip(*(column.tolist() for column in columns), strict=True)


def _rows(kind: type, part: object) -> Iterator:
    """Make one ``kind`` of each row of a part whose arrays are named like its fields."""
    return (kind(*row) for row in _zipped(*(getattr(part, f.name) for f in fields(kind))))


def _boards(figures: Figures) -> Iterator[answer.BoardFigures]:
    """Take the boards apart along their length, fret by fret."""
    lines, slots, stack = figures.lines, figures.slots, figures.stack
    gaps = np.diff(lines.centre, axis=1, prepend=lines.centre[:, :1])
    half = figures.width / 2
    bass_y, treble_y = -half, half
    if lines.fanned:
        taper = ((stack.heel_width - stack.nut_width) / lines.length)[:, None]
        bass_y, treble_y = (
            side * (stack.nut_width[:, None] + taper * x) / 2 for side, x in ((-1, lines.bass), (1, lines.treble))
        )
    table = np.stack(
        (lines.centre, gaps, figures.width, figures.radius, figures.sagitta, figures.edge)
        + (lines.bass, bass_y, lines.treble, treble_y),
        axis=-1,
    ).tolist()
    lengths = _zipped(lines.length, lines.length - figures.layout.head)
    for board, depths, webs, frets, (length, overall) in zip(
        table, slots.depth.tolist(), slots.web.tolist(), stack.frets.tolist(), lengths, strict=True
    ):
        found = []
        for fret, (row, depth, web) in enumerate(zip(board, [None, *depths], [None, *webs], strict=True)):
            if fret > frets:
                break
            x, gap, width, radius, sagitta, edge, xb, yb, xt, yt = row
            radius = radius if math.isfinite(radius) else None
            found.append(answer.FretLine(fret, x, gap, width, radius, sagitta, edge, (xb, yb), (xt, yt), depth, web))
        yield answer.BoardFigures(length, overall, tuple(found))


def _fans(figures: Figures, rigs: dict[int, Rig]) -> dict[int, answer.PassFigures]:
    """Take apart the passes of the boards that have a cutter, by row of the stack."""
    fan, rows = figures.fan, figures.fan_rows
    if fan is None:
        return {}
    bite = figures.bite[rows]
    numbers = fan.numbers()
    angles = numbers * fan.step[:, None]
    table = np.stack(
        (numbers, np.degrees(angles), fan.depths(numbers, bite), angles, numbers * fan.stride[:, None]), -1
    )
    levels = depth_levels(fan.deepest(bite), figures.stack.cutter_max_depth[rows])
    heads = _zipped(fan.count, np.degrees(fan.step), np.degrees(fan.half_angle), fan.scallop, levels, fan.stride > 0)
    found = {}
    for row, (count, step, half_angle, scallop, level, flat), passes in zip(
        rows.tolist(), heads, table.tolist(), strict=True
    ):
        formers = rigs[row].formers if row in rigs else None
        found[row] = answer.PassFigures(
            count=int(count),
            step_deg=step,
            half_angle_deg=half_angle,
            scallop=scallop,
            depth_levels=int(level),
            list=tuple(
                answer.Pass(int(number), degrees, depth, *([stroke] * 4 if flat else _marks(angle, formers)))
                for number, degrees, depth, angle, stroke in passes[: int(count)]
            ),
        )
    return found


def _marks(angle: float, formers: tuple[Former, Former] | None) -> list[float | None]:
    """Say where a pass is marked on the head and the heel former: along the arc, and square across."""
    if formers is None:
        return [None] * 4
    return [mark for former in formers for mark in (former.radius * angle, former.radius * math.sin(angle))]
