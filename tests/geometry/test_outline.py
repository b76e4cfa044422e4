from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given

from geometry.outline import outline, rough_widths, width_at
from geometry.workout import work_out
from tests.geometry.samples import BOARD, FANNED, ask, requests, steady

A_NANOMETRE = 1e-6  # the fan is iterated to 1e-9 mm, and figures of a metre are added to it


def test_width_is_a_straight_taper_that_goes_on_over_the_ledge():
    assert width_at([-50, 0, 250, 500], 43, 57, 500).tolist() == pytest.approx([41.6, 43, 50, 57])


def test_a_square_board_seen_from_above():
    board = work_out(ask()).board
    corners = np.array([(0, -21.5), (0, 21.5), (board.length, 28.5), (board.length, -28.5)])
    assert np.array(outline(board, 43, 57)) == pytest.approx(corners)


def test_the_rough_outline_stands_proud_by_the_same_everywhere():
    board = work_out(ask(nut_ledge=6.0)).board
    fine, rough = (outline(board, 43, 57, nut_ledge=6.0, edge=edge) for edge in (0.0, 3.0))
    for (x, y), (rough_x, rough_y) in zip(fine, rough, strict=True):
        assert rough_x == pytest.approx(x)
        assert abs(rough_y) == pytest.approx(abs(y) + 3)
    assert fine[0][0] == -6
    assert 2 * fine[1][1] == pytest.approx(width_at(-6, 43, 57, board.length))
    assert rough_widths(43, 57, 3) == (49, 63)


def test_a_fanned_board_has_its_head_along_the_nut():
    board = work_out(ask(FANNED)).board
    nut = board.frets[0]
    bass, treble, _, _ = outline(board, 43, 57)
    assert bass == pytest.approx(nut.bass, abs=1e-9)
    assert treble == pytest.approx(nut.treble, abs=1e-9)
    behind_bass, behind_treble, _, _ = outline(board, 43, 57, nut_ledge=5.0)
    slope = (treble[0] - bass[0]) / (treble[1] - bass[1])
    assert (behind_treble[0] - behind_bass[0]) / (behind_treble[1] - behind_bass[1]) == pytest.approx(slope)
    assert behind_bass[0] < bass[0] - 4.9


@steady
@given(requests)
def test_the_outline_lies_within_the_blank(request):
    result, board = work_out(replace(request, blank=None)), request.board
    shape = outline(result.board, board.nut_width, board.heel_width, nut_ledge=board.nut_ledge)
    xs, ys = zip(*shape, strict=True)
    assert max(xs) - min(xs) <= result.board.overall + board.nut_ledge * 0.2 + A_NANOMETRE
    assert max(ys) == pytest.approx(-min(ys), rel=0.05)
    assert 2 * max(ys) <= result.blank_needed.width + A_NANOMETRE
    for line in result.board.frets:
        assert min(xs) - A_NANOMETRE <= line.bass[0] <= max(xs) + A_NANOMETRE
        assert min(xs) - A_NANOMETRE <= line.treble[0] <= max(xs) + A_NANOMETRE


def test_a_board_without_taper_is_a_rectangle():
    board = work_out(ask(replace(BOARD, nut_width=50.0, heel_width=50.0))).board
    assert {abs(y) for _, y in outline(board, 50, 50)} == {25.0}
