"""Boards to try things on, from a shop that does not exist."""

from dataclasses import replace

from hypothesis import HealthCheck, settings
from hypothesis import strategies as st

from geometry.request import Allowances, BlankSize, Board, Cutter, EndRadii, Request, TwoScales, Wire

# The same examples on every run, and no clock: what passes here passes on a slow machine.
steady = settings(
    derandomize=True, deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow], database=None
)

BOARD = Board(647.7, 22, 43.0, 57.0, 8.0, 6.35, EndRadii(254.0, 406.4))
FANNED = replace(BOARD, scale=TwoScales(685.8, 647.7, 7), frets=24, radius=EndRadii(400.0, 400.0))
WIRE = Wire(1.6, 0.58)
CUTTER = Cutter(16.0, 3.0)


def ask(board: Board = BOARD, wire: Wire = WIRE, **rest: object) -> Request:
    """Ask for a workout; keyword arguments that are a board's go to the board."""
    of_board = {name: rest.pop(name) for name in list(rest) if name in Board.__dataclass_fields__}
    return Request(replace(board, **of_board), wire, **rest)


def lengths(least: float, most: float) -> st.SearchStrategy[float]:
    return st.floats(least, most, allow_nan=False, allow_infinity=False)


scales = st.one_of(
    lengths(300, 900),
    st.builds(
        lambda treble, more, square_fret, inset: TwoScales(treble + more, treble, square_fret, inset),
        *(lengths(450, 700), lengths(-60, 60), st.integers(0, 14), lengths(0, 6)),
    ),
)
radii = st.one_of(
    st.none(),
    lengths(150, 600).map(lambda radius: EndRadii(radius, radius)),
    st.builds(EndRadii, lengths(220, 350), lengths(250, 500)),
)


def can_be(board: Board) -> bool:
    """A fan or a cone needs some length; a short board would widen or bend too fast for it."""
    cone = board.radius is not None and board.radius.nut != board.radius.heel
    fanned = isinstance(board.scale, TwoScales)
    return (not cone or (board.frets >= 12 and (fanned or board.scale >= 400))) and (not fanned or board.frets >= 8)


boards = st.builds(
    Board,
    scale=scales,
    frets=st.integers(1, 36),
    nut_width=lengths(36, 60),
    heel_width=lengths(45, 90),
    overhang=lengths(0, 30),
    thickness=lengths(4, 8),
    radius=radii,
    nut_ledge=lengths(0, 12),
).filter(can_be)
requests = st.builds(
    Request,
    board=boards,
    wire=st.builds(Wire, tang=lengths(1.2, 2.2), kerf=st.just(0.55), clearance=lengths(0, 0.6)),
    slotting=st.sampled_from(["before radiusing", "after radiusing"]),
    allowances=st.builds(Allowances, edge=lengths(0, 6), end=lengths(0, 20), proving=lengths(0, 40)),
    blank=st.one_of(st.none(), st.builds(BlankSize, lengths(400, 800), lengths(50, 100), lengths(5, 12))),
    cutter=st.one_of(st.none(), st.builds(Cutter, lengths(8, 32), lengths(0.5, 5))),
)
