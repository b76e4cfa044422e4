"""Readings that creep the same way."""

from itertools import pairwise, permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.drift import Drift, drift


@pytest.mark.parametrize(
    ("off", "boards", "by"),
    [
        ([0.02, 0.03, 0.08], 3, 0.06),
        ([0.0, -0.02, -0.05, -0.09], 4, -0.09),
        ([0.09, -0.03, 0.02, 0.07], 3, 0.10),  # the first was another story
    ],
)
def test_a_run_that_creeps_is_found(off: list[float], boards: int, by: float) -> None:
    found = drift(off, 0.1)
    assert found is not None and found.boards == boards and found.by == pytest.approx(by)


@pytest.mark.parametrize(
    "off",
    [
        [],
        [0.3],
        [0.0, 0.09],  # two boards always differ one way
        [0.01, 0.02, 0.03],  # not far enough to matter
        [0.02, 0.08, 0.08],  # the last did not go on
        [0.0, 0.05, 0.1, 0.06],  # it has turned
        [0.05, 0.05, 0.05, 0.05],
    ],
)
def test_boards_that_merely_scatter_are_left_alone(off: list[float]) -> None:
    assert drift(off, 0.1) is None


@given(st.lists(st.integers(-200, 200), max_size=8))
def test_the_run_found_is_the_longest_that_ends_with_the_last_board(hundredths: list[int]) -> None:
    off = [value / 1000 for value in hundredths]
    found = drift(off, 0.1)
    rising = [n for n in range(2, len(off) + 1) if all(a < b for a, b in pairwise(off[-n:]))]
    falling = [n for n in range(2, len(off) + 1) if all(a > b for a, b in pairwise(off[-n:]))]
    longest = max([*rising, *falling], default=1)
    moved = abs(hundredths[-1] - hundredths[-longest]) if hundredths else 0
    assert (found.boards if found else None) == (longest if longest >= 3 and moved >= 50 else None)


def test_a_creep_downwards_is_one_upwards_seen_from_below() -> None:
    for off in permutations([0.0, 0.03, 0.07, 0.12]):
        up, down = drift(off, 0.1), drift([-value for value in off], 0.1)
        assert (up is None) == (down is None)
        if up and down:
            assert down == Drift(up.boards, -up.by)
