"""A test board, against boards that are worked out point by point from where the rails really lie."""

import math
from dataclasses import replace

import pytest

from geometry.errors import GeometryError
from geometry.former import former_for
from geometry.jigtest import FROM_END, FROM_SIDE, EndRead, TestBoard, compare, expect
from geometry.request import Former, Jig

JIG = Jig(span=900, end_clearance=60, rail_spacing=120, rail_diameter=20, rail_plane=110, riser=30)
TEN = Former("10", *former_for(JIG, 254, 6.15))
SIXTEEN = Former("16", *former_for(JIG, 406.4, 6.15))
BOARD = TestBoard(400, 100, 12)


def cut_thickness(jig: Jig, ends: tuple[Former, Former], board: TestBoard, u: float, y: float) -> float:
    """Thickness of a cut board at a point, from the frame itself: three dimensions, no formula of `geometry`.

    The frame swings round the arcs by an angle. At each end it is given by two circles (the rails) that touch the arc;
    the plane through all the axes, lowered by k, is a plane of the cutter. What is left of the board is below all of
    them. k is such that the middle is left as thick as wanted.
    """

    def centre_and_reach(former: Former) -> tuple[float, float]:
        hypotenuse = former.radius + jig.rail_diameter / 2
        return former.apex - former.radius, math.sqrt(hypotenuse**2 - (jig.rail_spacing / 2) ** 2)

    (c0, q0), (c1, q1) = (centre_and_reach(former) for former in ends)

    def height(along: float, across: float, angle: float, k: float) -> float:
        share = along / jig.span
        centre, reach = c0 + (c1 - c0) * share, q0 + (q1 - q0) * share
        # Points at distance reach - k from the centre, measured along the direction that the frame is swung to.
        return centre + (reach - k - across * math.sin(angle)) / math.cos(angle)

    top = jig.riser + jig.packing
    middle = height(jig.span / 2, 0.0, 0.0, 0.0)
    k = middle - top - board.thickness
    angles = [math.radians(step / 100) for step in range(-1800, 1801)]
    return min(height(u, y, angle, k) for angle in angles) - top


@pytest.mark.parametrize("ends", [(TEN, TEN), (TEN, SIXTEEN), (SIXTEEN, TEN), (TEN, replace(SIXTEEN, apex=105.0))])
def test_expected_is_what_the_frame_leaves(ends: tuple[Former, Former]) -> None:
    head, heel = expect(JIG, *ends, BOARD)
    first = (JIG.span - BOARD.length) / 2 + FROM_END
    for end, u in ((head, first), (heel, JIG.span - first)):
        assert end.centre == pytest.approx(cut_thickness(JIG, ends, BOARD, u, 0.0), abs=0.01)
        assert end.side == pytest.approx(cut_thickness(JIG, ends, BOARD, u, BOARD.width / 2 - FROM_SIDE), abs=0.01)


@pytest.mark.parametrize("off", [-3.0, -1.5, 0.0, 2.0])
@pytest.mark.parametrize("ends", [(TEN, TEN), (TEN, SIXTEEN)])
def test_heights_measured_wrong_are_found_again(off: float, ends: tuple[Former, Former]) -> None:
    """The rails and formers really stand lower or higher by `off` than measured: that is the correction."""
    really = tuple(replace(former, apex=former.apex + off) for former in ends)
    left = replace(BOARD, thickness=11.8)  # and the depth was set a little off besides
    read = tuple(EndRead(end.centre, end.side, end.side) for end in expect(JIG, *really, left))
    found = compare(JIG, *ends, BOARD, read)
    assert found.correction == pytest.approx(off, abs=1e-6)
    assert found.thickness == pytest.approx(11.8)
    assert found.is_off == (abs(off) > found.known_to)
    assert not found.ends_unlike
    assert not found.drifts
    again = compare(replace(JIG, rail_plane=JIG.rail_plane + off), *really, BOARD, read)
    assert again.correction == pytest.approx(0, abs=1e-6)


def test_a_riser_that_is_thicker_leaves_the_same_board() -> None:
    thick = replace(JIG, riser=JIG.riser + 2)
    read = tuple(EndRead(end.centre, end.side, end.side) for end in expect(thick, TEN, TEN, BOARD))
    assert compare(JIG, TEN, TEN, BOARD, read).correction == pytest.approx(-2, abs=1e-6)


def test_what_readings_leave_open_covers_what_they_do() -> None:
    """Each reading wrong by as much as it may be, one at a time: the radius moves, but not by more than is said."""
    exact = tuple(EndRead(end.centre, end.side, end.side) for end in expect(JIG, TEN, TEN, BOARD))
    said = compare(JIG, TEN, TEN, BOARD, exact, read_to=0.02).head.known_to
    for name in ("centre", "bass", "treble"):
        for sign in (-1, 1):
            off = replace(exact[0], **{name: getattr(exact[0], name) + sign * 0.02})
            moved = abs(compare(JIG, TEN, TEN, BOARD, (off, exact[1])).head.over)
            assert 0 < moved < said
    squares = 0.0
    for name in ("centre", "bass", "treble"):
        off = replace(exact[0], **{name: getattr(exact[0], name) + 0.0001})
        squares += (compare(JIG, TEN, TEN, BOARD, (off, exact[1])).head.over / 0.0001 * 0.02) ** 2
    assert said == pytest.approx(math.sqrt(squares), rel=0.01), "independent errors add by their squares"


def test_one_former_alone_measured_wrong_is_told_apart() -> None:
    really = replace(TEN, radius=TEN.radius + 12)
    read = tuple(EndRead(end.centre, end.side, end.side) for end in expect(JIG, really, TEN, BOARD))
    found = compare(JIG, TEN, TEN, BOARD, read)
    assert found.ends_unlike


def test_a_curve_off_the_middle_is_found_on_the_thicker_side() -> None:
    """By points of a circle shifted by 1 mm towards the treble side."""
    centre = 12 - 254
    at = {"centre": 0.0, "bass": -45.0, "treble": 45.0}
    end = EndRead(**{name: centre + math.sqrt(254**2 - (y - 1.0) ** 2) for name, y in at.items()})
    found = compare(JIG, TEN, TEN, BOARD, (end, end))
    assert found.head.offset == pytest.approx(1.0, abs=0.02)
    assert found.head.read == pytest.approx(254, abs=0.2)


@pytest.mark.parametrize(
    ("board", "field", "says"),
    [
        (TestBoard(800, 100, 12), "length", "20 mm too long"),
        (TestBoard(60, 100, 12), "length", "100 mm long"),
        (TestBoard(400, 20, 12), "width", "30 mm wide"),
        (TestBoard(400, 600, 12), "width", "spans no board"),
        (TestBoard(400, 100, 4), "thickness", "in the middle at least"),
    ],
)
def test_boards_that_do_not_suit(board: TestBoard, field: str, says: str) -> None:
    with pytest.raises(GeometryError) as caught:
        expect(JIG, TEN, TEN, board)
    assert [(problem.field, says in problem.message) for problem in caught.value.problems] == [(field, True)]


def test_a_board_as_thick_as_the_words_ask_will_do() -> None:
    with pytest.raises(GeometryError) as caught:
        expect(JIG, TEN, TEN, TestBoard(400, 100, 4))
    least = float(caught.value.problems[0].message.split("Leave ")[1].split(" mm")[0])
    assert expect(JIG, TEN, TEN, TestBoard(400, 100, least))


def test_readings_without_a_curve() -> None:
    with pytest.raises(GeometryError) as caught:
        compare(JIG, TEN, TEN, BOARD, (EndRead(12, 12, 12), EndRead(8, 12, 12)))
    assert [problem.field for problem in caught.value.problems] == ["head_centre", "heel_centre"]
