import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.frets import MAX_FRETS, SHARES, distance_from_nut, lay_frets
from geometry.request import TwoScales
from geometry.stack import stacked
from geometry.workout import work_out
from tests.geometry.samples import FANNED, ask, lengths, requests, steady

# 2^(n/12), as a general audio library's equal-interval function prints them.
RATIOS = (
    *(1.0, 1.0594630944, 1.1224620483, 1.1892071150, 1.2599210499, 1.3348398542, 1.4142135624),
    *(1.4983070769, 1.5874010520, 1.6817928305, 1.7817974363, 1.8877486254, 2.0),
)
# Hz at A4 = 440 (ISO 16:1975), as printed alike by librosa 0.11.0 and music21 10.5.1: open string, then frets.
A_STRING = {
    **{0: 440.000000, 1: 466.163762, 2: 493.883301, 3: 523.251131, 4: 554.365262, 5: 587.329536, 6: 622.253967},
    **{7: 659.255114, 8: 698.456463, 9: 739.988845, 10: 783.990872, 11: 830.609395, 12: 880.000000},
}
LOW_E_STRING = {0: 82.406889, 5: 110.000000, 10: 146.832384, 15: 195.997718, 19: 246.941651, 24: 329.627557}
LOW_B_STRING = {0: 30.867706, 5: 41.203445, 10: 55.000000, 12: 61.735413, 15: 73.416192, 20: 97.998859}


def test_equal_temperament_ratios():
    sounding = 1 - distance_from_nut(1.0, np.arange(13))
    assert 1 / sounding == pytest.approx(RATIOS, abs=6e-11)


@pytest.mark.parametrize("string", [A_STRING, LOW_E_STRING, LOW_B_STRING])
def test_printed_frequencies(string):
    # A string sounds in inverse proportion to its length.
    for fret, hertz in string.items():
        sounding = 1 - distance_from_nut(1.0, fret)
        assert string[0] / sounding == pytest.approx(hertz, abs=2e-6 * hertz / string[0] + 1e-6)


def test_fractions_of_the_scale():
    for fret, share in {1: 0.0561256873, 5: 0.2508464616, 7: 0.3325800729}.items():
        assert distance_from_nut(1.0, fret) == pytest.approx(share, abs=5e-11)
    assert distance_from_nut(647.7, 12) == 647.7 / 2
    assert distance_from_nut(647.7, 24) == 647.7 * 0.75
    assert 1 / distance_from_nut(1.0, 1) == pytest.approx(17.817153745105767553, abs=1e-12)


def test_rule_of_eighteen_misses_by_its_known_error():
    # Attributed to Vincenzo Galilei in "Strahle's Equal-Tempered Triumph": each fret takes an eighteenth off.
    eighteen = 1 - (17 / 18) ** np.arange(13)
    assert eighteen[[1, 7, 12]] == pytest.approx([0.0555555556, 0.3297529457, 0.4963637341], abs=1e-10)
    error = distance_from_nut(1.0, np.arange(13)) - eighteen
    assert error[1:].min() > 0
    assert error[12] == pytest.approx(0.5 - 0.4963637341, abs=1e-10)
    assert 1200 * math.log2(18 / 17) == pytest.approx(98.954592, abs=1e-6)


def test_strahle_agrees_within_its_known_cents():
    # Strahle's construction of 1743, from memory: relative length (24-7m)/(24+10m), m = n/12; worst 2.62 cents.
    m = np.arange(13) / 12
    cents = 1200 * np.log2((1 - distance_from_nut(1.0, np.arange(13))) / ((24 - 7 * m) / (24 + 10 * m)))
    assert cents[[0, 12]] == pytest.approx([0, 0], abs=1e-9)
    assert np.abs(cents).max() == pytest.approx(2.62, abs=0.005)
    assert np.abs(cents).argmax() == 3


@steady
@given(lengths(100, 3000))
def test_frets_only_come_closer(scale):
    gaps = np.diff(distance_from_nut(scale, np.arange(MAX_FRETS + 1)))
    assert (gaps > 0).all()
    assert (np.diff(gaps) < 0).all()
    assert gaps[1:] / gaps[:-1] == pytest.approx(np.full(MAX_FRETS - 1, 2 ** (-1 / 12)))
    assert distance_from_nut(scale, np.arange(MAX_FRETS + 1)) == pytest.approx(scale * SHARES, abs=0)


def test_a_board_on_one_scale():
    result = work_out(ask())
    assert result.board.length == pytest.approx(473.945333, abs=5e-7)
    assert [line.fret for line in result.board.frets] == list(range(23))
    assert result.board.frets[12].from_nut == 647.7 / 2
    assert result.board.frets[12].bass[0] == result.board.frets[12].treble[0] == 647.7 / 2
    steps = [line.from_previous for line in result.board.frets]
    assert steps[0] == 0
    assert sum(steps) == pytest.approx(result.board.length - 8)


def string_points(request, line):
    """Follow a fret line to the two outer strings, and say how far along each it is from the nut's point there."""
    board = request.board
    (xb, yb), (xt, yt) = line.bass, line.treble
    result = work_out(request)
    taper = (board.heel_width - board.nut_width) / result.board.length
    found = []
    for side in (-1, 1):  # where x = xb + t (xt - xb), y = yb + t (yt - yb) meets y = side ((Wn + taper x)/2 - inset)
        half = board.nut_width / 2 - board.scale.inset
        t = (side * (half + taper * xb / 2) - yb) / ((yt - yb) - side * taper / 2 * (xt - xb))
        found.append((xb + t * (xt - xb), yb + t * (yt - yb)))
    return found


@pytest.mark.parametrize("square_fret", [0, 7, 12])
def test_fanned_scale_lengths_hold_along_the_strings(square_fret):
    scale = TwoScales(685.8, 647.7, square_fret, 3.5)
    request = ask(FANNED, scale=scale)
    lines = work_out(request).board.frets
    nut = string_points(request, lines[0])
    for line in lines:
        for start, end, length in zip(nut, string_points(request, line), (685.8, 647.7), strict=True):
            assert math.dist(start, end) == pytest.approx(distance_from_nut(length, line.fret), abs=1e-8)
    square = lines[square_fret]
    assert square.bass[0] == pytest.approx(square.treble[0], abs=1e-9)
    assert square.from_nut == pytest.approx(square.bass[0], abs=1e-9)
    assert nut[0][0] == pytest.approx(-nut[1][0], abs=1e-9)


def test_fanned_length_has_settled():
    result = work_out(ask(FANNED))
    last = result.board.frets[-1]
    assert result.board.length == pytest.approx(max(last.bass[0], last.treble[0]) + 8, abs=2e-9)
    assert abs(result.board.frets[0].from_nut) < 0.1
    assert result.board.frets[0].from_previous == 0


@steady
@given(requests, st.integers(0, 12))
def test_two_equal_scales_are_one(request, square_fret):
    board = replace(request.board, scale=640.0)
    fanned = replace(board, scale=TwoScales(640.0, 640.0, square_fret, 3.5), nut_width=46.0, heel_width=46.0)
    square = work_out(replace(request, board=replace(board, nut_width=46.0, heel_width=46.0)))
    again = work_out(replace(request, board=fanned))
    for line, same in zip(square.board.frets, again.board.frets, strict=True):
        assert same.from_nut == pytest.approx(line.from_nut, abs=1e-9)
        assert same.bass == pytest.approx(line.bass, abs=1e-9)
        assert same.web == pytest.approx(line.web, abs=1e-9)


@steady
@given(requests.filter(lambda request: isinstance(request.board.scale, TwoScales)))
def test_turning_a_fan_over_mirrors_it(request):
    scale = request.board.scale
    mirrored = replace(request.board, scale=TwoScales(scale.treble, scale.bass, scale.square_fret, scale.inset))
    lines = work_out(request).board.frets
    for line, other in zip(lines, work_out(replace(request, board=mirrored)).board.frets, strict=True):
        assert other.bass == pytest.approx((line.treble[0], -line.treble[1]), abs=1e-8)
        assert other.treble == pytest.approx((line.bass[0], -line.bass[1]), abs=1e-8)
        assert other.from_nut == pytest.approx(line.from_nut, abs=1e-8)


@steady
@given(requests)
def test_frets_keep_their_order_and_end_on_the_edges(request):
    result = work_out(request)
    board, lines = request.board, result.board.frets
    for side in ("bass", "treble"):
        xs = [getattr(line, side)[0] for line in lines]
        assert all(a < b for a, b in zip(xs, xs[1:], strict=False))
        assert xs[-1] <= result.board.length - board.overhang + 1e-6
        for line in lines:
            x, y = getattr(line, side)
            half = (board.nut_width + (board.heel_width - board.nut_width) * x / result.board.length) / 2
            assert abs(y) == pytest.approx(half, abs=1e-9)
            assert (y < 0) == (side == "bass")


def test_columns_past_a_boards_last_fret_stay_at_its_heel():
    short, long = ask(frets=12), ask(frets=24)
    lines = lay_frets(stacked([short, long]))
    assert lines.centre[0, 13:] == pytest.approx(np.full(12, lines.length[0]))
    assert (lines.centre[1] < lines.length[1]).all()
