from dataclasses import replace

import pytest
from hypothesis import given

from geometry.request import Allowances, BlankSize, EndRadii
from geometry.workout import work_out
from tests.geometry.samples import FANNED, ask, lengths, requests, steady


def test_the_ledger_from_the_finished_board_back_to_intake():
    ledger = work_out(ask()).thickness
    assert (ledger.finished, ledger.after_radiusing) == pytest.approx((6.35, 6.5))
    assert (ledger.before_radiusing, ledger.intake_min) == pytest.approx((6.65, 7.45))


def test_the_smallest_blank():
    needed = work_out(ask()).blank_needed
    assert needed.length == pytest.approx(518.945333, abs=5e-7)
    assert (needed.width, needed.thickness) == pytest.approx((63, 7.45))


def test_a_ledge_lengthens_the_blank_and_the_board():
    plain, ledged = work_out(ask()), work_out(ask(nut_ledge=6.0))
    assert ledged.board.length == plain.board.length
    assert ledged.board.overall == pytest.approx(plain.board.overall + 6)
    assert ledged.blank_needed.length == pytest.approx(plain.blank_needed.length + 6)


def test_the_slanting_nut_of_a_fan_needs_wood_too():
    result = work_out(ask(FANNED))
    reach = -min(result.board.frets[0].bass[0], result.board.frets[0].treble[0])
    assert reach > 5
    assert result.board.overall == pytest.approx(result.board.length + reach)
    assert result.blank_needed.length == pytest.approx(result.board.overall + 2 * 10 + 25)


def test_a_board_that_narrows_towards_the_heel_is_widest_at_its_ledge():
    result = work_out(ask(nut_width=60.0, heel_width=50.0, nut_ledge=10.0))
    assert result.blank_needed.width == pytest.approx(60 + 10 * 10 / result.board.length + 6)


def test_margins_are_what_is_left_over():
    result = work_out(ask(blank=BlankSize(530, 62, 7.5)))
    assert result.blank_margin.length == pytest.approx(530 - 518.945333, abs=1e-6)
    assert (result.blank_margin.width, result.blank_margin.thickness) == pytest.approx((-1, 0.05))
    assert work_out(ask()).blank_margin is None


def test_corners_of_a_cylinder_are_alike():
    corners = work_out(ask(radius=EndRadii(254.0, 254.0))).corners
    assert corners.head == corners.heel == pytest.approx(6.5 - (254 - (254**2 - 31.5**2) ** 0.5))


def test_corners_follow_the_radius_past_the_board():
    result = work_out(ask())
    slope = (406.4 - 254) / result.board.length
    head, heel = 254 - 10 * slope, 254 + (518.945333 - 10) * slope
    assert result.corners.head == pytest.approx(6.5 - (head - (head**2 - 31.5**2) ** 0.5), abs=1e-6)
    assert result.corners.heel == pytest.approx(6.5 - (heel - (heel**2 - 31.5**2) ** 0.5), abs=1e-6)


def test_corners_of_the_blank_as_measured():
    wide = work_out(ask(blank=BlankSize(600, 80, 9)))
    assert wide.corners.head < work_out(ask()).corners.head
    flat = work_out(ask(radius=None)).corners
    assert flat.head == flat.heel == 6.5


@steady
@given(requests, lengths(0, 3))
def test_more_allowance_asks_for_more_blank(request, more):
    before = work_out(replace(request, blank=None)).blank_needed
    allow = request.allowances
    for name, size, times in (
        *[("edge", "width", 2), ("end", "length", 2), ("proving", "length", 1)],
        *[("flatten", "thickness", 2), ("skim", "thickness", 1), ("sanding", "thickness", 1)],
    ):
        wider: Allowances = replace(allow, **{name: getattr(allow, name) + more})
        after = work_out(replace(request, blank=None, allowances=wider)).blank_needed
        assert getattr(after, size) == pytest.approx(getattr(before, size) + times * more)
