"""A test board: what a jig should make of it, what was read, and how far the jig's measures are off."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from geometry.errors import GeometryError, Problem
from geometry.jig import Pairs
from geometry.request import Former, Jig
from geometry.surface import radius_spanning, sagitta_within
from geometry.units import LengthStyle
from geometry.words import at_least, at_most, say

FROM_END: Final = 10.0  # mm: where an end is read, in from it and from the sides, clear of what has torn out
FROM_SIDE: Final = 5.0
ASIDE: Final = 0.5  # mm: a curve further off the middle of the board is worth a word (common practice, no source)
READ_TO: Final = 0.02  # mm: what a caliper leaves uncertain in one reading (common practice, no source)


@dataclass(frozen=True, slots=True)
class TestBoard:
    """A straight, square piece of waste, mm; `thickness` is what the middle is to have once it is cut."""

    __test__ = False  # not one of pytest's

    length: float
    width: float
    thickness: float

    @property
    def chord(self) -> float:
        """Distance between the two places at the sides where an end is read."""
        return self.width - 2 * FROM_SIDE


@dataclass(frozen=True, slots=True)
class EndExpected:
    """What one end should come out as, mm: its radius, and thickness in the middle and at either side."""

    radius: float
    centre: float
    side: float


@dataclass(frozen=True, slots=True)
class EndRead:
    """Thickness as read at one end, mm."""

    centre: float
    bass: float
    treble: float


@dataclass(frozen=True, slots=True)
class EndCompared:
    """One end: the radius read, what it is expected to be at the thickness read, what is left over.

    Attributes
    ----------
    read, expected : float
        Radius, mm.
    known_to : float
        How far the radius read may be off, since readings are only so good, mm.
    offset : float
        How far the centre of the curve lies towards the treble side, mm.
    """

    read: float
    expected: float
    known_to: float
    offset: float

    @property
    def over(self) -> float:
        """How much larger the radius came out than expected, mm."""
        return self.read - self.expected

    @property
    def is_aside(self) -> bool:
        """Whether the curve lies off the middle of the board."""
        return abs(self.offset) > ASIDE


@dataclass(frozen=True, slots=True)
class Compared:
    """A test board as read beside what was expected.

    Attributes
    ----------
    head, heel : EndCompared
        The ends.
    thickness : float
        Mean of the two readings in the middle, mm.
    drift, drift_expected : float
        Height of the apex at the heel end over that at the head end, mm.
    correction : float
        By how much the rail plane, and every apex of a former with it, has to be moved up, mm.
    known_to : float
        How far the correction may be off, mm.
    read_to : float
        How far one reading may be off, mm.
    """

    head: EndCompared
    heel: EndCompared
    thickness: float
    drift: float
    drift_expected: float
    correction: float
    known_to: float
    read_to: float

    @property
    def is_off(self) -> bool:
        """Whether the correction is more than the readings leave uncertain."""
        return abs(self.correction) > self.known_to

    @property
    def ends_unlike(self) -> bool:
        """Whether the two ends are off by unlike amounts, which no shift of the rail plane explains."""
        return abs(self.heel.over - self.head.over) > math.hypot(self.head.known_to, self.heel.known_to)

    @property
    def drifts(self) -> bool:
        """Whether the apex runs out of level otherwise than expected."""
        return abs(self.drift - self.drift_expected) > math.sqrt(2) * self.read_to


def check_board(
    jig: Jig, head: Former, heel: Former, board: TestBoard, style: LengthStyle = LengthStyle.MM
) -> list[Problem]:
    """Find what is wrong with a test board for a jig and two formers, by the names of its figures."""
    return list(_wrong_board(jig, head, heel, board, style))


def _wrong_board(jig: Jig, head: Former, heel: Former, board: TestBoard, style: LengthStyle) -> Iterator[Problem]:
    bed = jig.span - 2 * jig.end_clearance
    if board.length > bed:
        message = (
            f"The bed takes {at_most(bed, style)} between its end clearances: this board is "
            f"{at_least(board.length - bed, style)} too long."
        )
        yield Problem("length", message)
    if board.length < 10 * FROM_END:
        yield Problem("length", f"It should be {say(10 * FROM_END, style)} long at least, to read its two ends apart.")
    if board.width < 6 * FROM_SIDE:
        yield Problem("width", f"It should be {say(6 * FROM_SIDE, style)} wide at least, to read a curve from it.")
        return
    for name, end in zip(("head", "heel"), _expect(jig, head, heel, board), strict=True):
        if end.radius <= board.width / 2:
            message = (
                f"At the {name} the radius comes to {at_most(max(end.radius, 0.0), style)}, which spans no board "
                f"{say(board.width, style)} wide."
            )
            yield Problem("width", message)
            return
        if (edge := end.centre - float(sagitta_within(end.radius, board.width))) < 1:
            message = (
                f"At the {name} only {say(max(edge, 0.0), style)} would be left at the edges. Leave "
                f"{at_least(board.thickness + 1 - edge, style)} in the middle at least, or take a narrower board."
            )
            yield Problem("thickness", message)
            return


def _expect(jig: Jig, head: Former, heel: Former, board: TestBoard) -> tuple[EndExpected, EndExpected]:
    """Work out both ends without a look at whether they can be."""
    pair = Pairs.of(jig, (head.radius, head.apex), (heel.radius, heel.apex))
    between = board.length - 2 * FROM_END
    # The middle of the board lies in the middle of the bed; seen from there only what is between the two ends counts.
    cut = pair.cut((jig.span - between) / 2, between, jig.riser + jig.packing + board.thickness)
    drift = float(cut.drift)
    ends = ((float(cut.nut_radius), -drift / 2), (float(cut.heel_radius), drift / 2))
    return tuple(
        EndExpected(
            radius,
            board.thickness + rise,
            board.thickness + rise - (float(sagitta_within(radius, board.chord)) if radius > board.chord / 2 else 0.0),
        )
        for radius, rise in ends
    )


def expect(
    jig: Jig, head: Former, heel: Former, board: TestBoard, style: LengthStyle = LengthStyle.MM
) -> tuple[EndExpected, EndExpected]:
    """Work out what a test board should come out as, `FROM_END` in from its head and heel end.

    Parameters
    ----------
    jig : Jig
        The jig as measured.
    head, heel : Former
        What stands at its ends.
    board : TestBoard
        Lies in the middle of the bed.
    style : LengthStyle
        How lengths are written in the words of an error.

    Raises
    ------
    GeometryError
        If the board does not suit the jig: all that is wrong with it.
    """
    if problems := check_board(jig, head, heel, board, style):
        raise GeometryError(*problems)
    return _expect(jig, head, heel, board)


def compare(
    jig: Jig,
    head: Former,
    heel: Former,
    board: TestBoard,
    readings: tuple[EndRead, EndRead],
    style: LengthStyle = LengthStyle.MM,
    *,
    read_to: float = READ_TO,
) -> Compared:
    """Compare a test board with what was expected of it, and work out how far the heights of the jig are off.

    Parameters
    ----------
    jig, head, heel, board : Jig, Former, Former, TestBoard
        As for `expect`.
    readings : pair of EndRead
        Thickness at the head and the heel end, `FROM_END` in from the end and `FROM_SIDE` in from either side.
    style : LengthStyle
        How lengths are written in the words of an error.
    read_to : float
        How far one reading may be off, mm.

    Raises
    ------
    GeometryError
        If what was read is no curve; fields ``head_centre`` and so on.

    Notes
    -----
    At a former the radius cut is ``R_f + z - H_f`` with z the height of the cut's apex above the bed, which is riser,
    packing and the thickness left. A depth set a little off is seen in the thickness read, so it is taken from there
    and only the rest is laid to the jig: where the radius comes out larger than that by e at both ends, the board lies
    e nearer the centres of the arcs than measured. The heights measured above the bed are too large by e: those
    of the apexes, ``H_f``, and with them that of the rail plane, ``Z = H_f - R_f + sqrt((R_f + d/2)² - (g/2)²)``, from
    which the cutter's depth ``k = Z - A`` and all further formers follow. So all of them move by
    ``-e``, e taken as the mean of both ends. A riser thicker than measured by e leaves the same board: one board cannot
    tell them apart, a rule on the riser can.

    The radius of an arc over the chord c of height h is ``(c² + 4h²)/(8h)``, so h off by a little moves it by
    ``1/2 - c²/(8h²)`` times as much; h comes from the reading in the middle and the mean of two at the sides.
    """
    pairs = list(zip(("head", "heel"), readings, strict=True))
    problems = [problem for name, end in pairs for problem in _no_curve(name, end, read_to, style)]
    if problems:
        raise GeometryError(*problems)
    thickness = (readings[0].centre + readings[1].centre) / 2
    expected = _expect(jig, head, heel, TestBoard(board.length, board.width, thickness))
    ends = [
        _compare_end(board.chord, read, wanted.radius, read_to)
        for (_, read), wanted in zip(pairs, expected, strict=True)
    ]
    return Compared(
        head=ends[0],
        heel=ends[1],
        thickness=thickness,
        drift=readings[1].centre - readings[0].centre,
        drift_expected=expected[1].centre - expected[0].centre,
        correction=-(ends[0].over + ends[1].over) / 2,
        known_to=math.hypot(ends[0].known_to, ends[1].known_to) / 2,
        read_to=read_to,
    )


def _no_curve(name: str, end: EndRead, read_to: float, style: LengthStyle) -> Iterator[Problem]:
    sides = (end.bass + end.treble) / 2
    if end.centre - sides < 2 * read_to:
        message = (
            f"At the {name} the middle reads {say(end.centre, style)} and the sides {say(sides, style)} on average: "
            "there is hardly a curve. Read them again."
        )
        yield Problem(f"{name}_centre", message)


def _compare_end(chord: float, read: EndRead, expected: float, read_to: float) -> EndCompared:
    height = read.centre - (read.bass + read.treble) / 2
    radius = float(radius_spanning(chord, height))
    return EndCompared(
        read=radius,
        expected=expected,
        known_to=abs(0.5 - chord**2 / (8 * height**2)) * read_to * math.sqrt(1.5),
        offset=(read.treble - read.bass) * radius / chord,
    )
