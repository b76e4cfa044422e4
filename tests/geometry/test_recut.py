"""What a board with a curve must still have for another: held against the arc over its chord, reckoned by itself.

Source: Machinery's Handbook, "Segments of a Circle", ``h = r - sqrt(4r² - c²)/2``.
"""

import math

import pytest

from geometry.recut import sagitta_apart
from geometry.request import Board, EndRadii

LENGTH = 470.0


def arc(radius: float, chord: float) -> float:
    return radius - math.sqrt(4 * radius**2 - chord**2) / 2


def board(radius: EndRadii | None) -> Board:
    return Board(648, 22, 43, 57, 8, 6, radius)


def test_it_works() -> None:
    """From 10 in to 12 in: the edge lies too low, most of all where the board is widest."""
    least, most = sagitta_apart(board(EndRadii(304.8, 304.8)), LENGTH, EndRadii(254, 254), LENGTH)
    assert least == pytest.approx(arc(254, 43) - arc(304.8, 43))
    assert most == pytest.approx(arc(254, 57) - arc(304.8, 57))
    assert 0 < least < most


def test_the_other_way_round_the_edge_has_wood_enough() -> None:
    least, most = sagitta_apart(board(EndRadii(254, 254)), LENGTH, EndRadii(304.8, 304.8), LENGTH)
    assert least == pytest.approx(arc(304.8, 57) - arc(254, 57))
    assert most < 0


def test_alike() -> None:
    cone = EndRadii(254, 406.4)
    assert sagitta_apart(board(cone), LENGTH, cone, LENGTH) == (0, 0)
    assert sagitta_apart(board(None), LENGTH, None, LENGTH) == (0, 0)


def test_flat_and_curved() -> None:
    assert sagitta_apart(board(None), LENGTH, EndRadii(254, 254), LENGTH)[1] == pytest.approx(arc(254, 57))
    assert sagitta_apart(board(EndRadii(254, 254)), LENGTH, None, LENGTH)[0] == pytest.approx(-arc(254, 57))


def test_a_cone_that_was_cut_over_another_length() -> None:
    """The old cone is 254 at the nut and reaches 406.4 after 400 mm, so after 470 mm it is 432.08."""
    at_heel = 254 + (406.4 - 254) * LENGTH / 400
    _, most = sagitta_apart(board(EndRadii(304.8, at_heel)), LENGTH, EndRadii(254, 406.4), 400)
    assert most == pytest.approx(arc(254, 43) - arc(304.8, 43), rel=0.2)
    least, _ = sagitta_apart(board(EndRadii(304.8, at_heel)), LENGTH, EndRadii(254, 406.4), 400)
    assert least == pytest.approx(0, abs=1e-9)


def test_a_curve_too_tight_for_the_width_leaves_no_edge() -> None:
    _, most = sagitta_apart(board(None), LENGTH, EndRadii(25, 25), LENGTH)
    assert most == pytest.approx(25)
