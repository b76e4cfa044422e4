import math
from dataclasses import replace

import numpy as np
import pytest

from geometry.blocks import block_error, choose_block
from geometry.request import EndRadii
from tests.geometry.samples import BOARD

CYLINDER = replace(BOARD, nut_width=43.0, heel_width=56.0, radius=EndRadii(304.8, 304.8))
COMPOUND = replace(CYLINDER, radius=EndRadii(254.0, 406.4))


def test_the_block_of_the_boards_own_radius_is_exact():
    assert block_error(304.8, CYLINDER) == pytest.approx(0, abs=1e-12)


def test_a_compound_board_is_off_by_the_difference_of_the_segments_heights():
    # Heights of segments by Machinery's Handbook, 31st ed., p. 83 (h = r - sqrt(4r² - c²)/2), computed from it:
    # chord 43: r 254 -> 0.911577, r 304.8 -> 0.759230; chord 56: r 304.8 -> 1.288814, r 406.4 -> 0.965714.
    nut, heel = 0.911577 - 0.759230, 1.288814 - 0.965714
    assert block_error(304.8, COMPOUND) == pytest.approx(max(nut, heel), abs=2e-6)


def test_a_flat_block_leaves_the_whole_height_of_the_curve():
    assert block_error(math.inf, CYLINDER) == pytest.approx(1.288814, abs=1e-6)


def test_a_block_rounder_than_the_board_is_wide_is_none():
    assert np.isinf(block_error(25.0, CYLINDER))
    assert choose_block([25.0], CYLINDER) is None
    assert choose_block([], CYLINDER) is None


def test_the_nearest_block_is_chosen_and_of_equals_the_first():
    place, error = choose_block([254.0, 355.6, 304.8, 304.8], CYLINDER)
    assert (place, error) == (2, pytest.approx(0, abs=1e-12))
    errors = block_error([254.0, 330.0, 406.4], COMPOUND)
    assert choose_block([254.0, 330.0, 406.4], COMPOUND) == (int(errors.argmin()), pytest.approx(errors.min()))


def test_a_flat_board_wants_a_flat_block():
    flat = replace(CYLINDER, radius=None)
    assert choose_block([254.0, math.inf], flat) == (1, 0.0)
