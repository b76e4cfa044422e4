"""Many boards side by side: the figures of a request as arrays, one row for each board."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from geometry.request import BlankSize, Cutter, EndRadii, Request, TwoScales

_NO_BLANK = BlankSize(0.0, 0.0, 0.0)
_NO_CUTTER = Cutter(0.0, 0.0)
_FLAT = EndRadii(np.inf, np.inf)


@dataclass(frozen=True, slots=True)
class Stack:
    """Boards and what the shop allows for them, as arrays of shape (boards,).

    Names and units are those of `geometry.request`. A board with one scale length has it as ``bass`` and as
    ``treble``; a flat board has infinite radii; a missing blank or cutter measures 0 in every direction. `stacked`
    makes one from requests; made by hand, its figures must lie within `geometry.limits`.
    """

    bass: np.ndarray
    treble: np.ndarray
    square_fret: np.ndarray
    inset: np.ndarray
    fanned: np.ndarray
    frets: np.ndarray
    nut_width: np.ndarray
    heel_width: np.ndarray
    overhang: np.ndarray
    nut_ledge: np.ndarray
    thickness: np.ndarray
    nut_radius: np.ndarray
    heel_radius: np.ndarray
    tang: np.ndarray
    clearance: np.ndarray
    after_radiusing: np.ndarray
    edge: np.ndarray
    end: np.ndarray
    proving: np.ndarray
    flatten: np.ndarray
    skim: np.ndarray
    sanding: np.ndarray
    blank_length: np.ndarray
    blank_width: np.ndarray
    blank_thickness: np.ndarray
    cutter_diameter: np.ndarray
    cutter_max_depth: np.ndarray
    scallop_max: np.ndarray

    def __post_init__(self) -> None:
        for name in ("square_fret", "frets"):
            object.__setattr__(self, name, getattr(self, name).astype(np.intp))
        for name in ("fanned", "after_radiusing"):
            object.__setattr__(self, name, getattr(self, name).astype(bool))

    def __len__(self) -> int:
        return len(self.frets)

    def take(self, rows: np.ndarray) -> Stack:
        """Return the boards of some rows, as a smaller stack."""
        return Stack(*(getattr(self, f.name)[rows] for f in fields(self)))


def stacked(requests: Sequence[Request]) -> Stack:
    """Stack requests that `geometry.checks.problems_in` found nothing wrong with."""
    return Stack(*np.array([_row(request) for request in requests], float).T)


def _row(request: Request) -> tuple[float, ...]:
    """Put the figures of one request in the order of the fields of `Stack`."""
    board, wire, allow = request.board, request.wire, request.allowances
    scale = board.scale if isinstance(board.scale, TwoScales) else TwoScales(board.scale, board.scale, 0, 0.0)
    radius, blank, cutter = board.radius or _FLAT, request.blank or _NO_BLANK, request.cutter or _NO_CUTTER
    return (
        *(scale.bass, scale.treble, scale.square_fret, scale.inset, scale is board.scale),
        *(board.frets, board.nut_width, board.heel_width, board.overhang, board.nut_ledge, board.thickness),
        *(radius.nut, radius.heel, wire.tang, wire.clearance, request.slotting == "after radiusing"),
        *(allow.edge, allow.end, allow.proving, allow.flatten, allow.skim, allow.sanding),
        *(blank.length, blank.width, blank.thickness, cutter.diameter, cutter.max_depth, request.scallop_max),
    )
