"""Paths over stops against published tours, and against one another."""

import itertools

import numpy as np
import pytest

from geometry.paths import exact_path, fixed_path, least_cost, near_path, path_cost

# TSPLIB gr17, lower triangle. The tour of 2085 is the published optimum (from memory) and was found again by Held &
# Karp's method; the open paths were computed by it as well.
GR17 = """
633
257 390
91 661 228
412 227 169 383
150 488 112 120 267
80 572 196 77 351 63
134 530 154 105 309 34 29
259 555 372 175 338 264 232 249
505 289 262 476 196 360 444 402 495
353 282 110 324 61 208 292 250 352 154
324 638 437 240 421 329 297 314 95 578 435
70 567 191 27 346 83 47 68 189 439 287 254
211 466 74 182 243 105 150 108 326 336 184 391 145
268 420 53 239 199 123 207 165 383 240 140 448 202 57
246 745 472 237 528 364 332 349 202 685 542 157 289 426 483
121 518 142 84 297 35 29 36 236 390 238 301 55 96 153 336
"""


def gr17():
    rows = [[int(cell) for cell in line.split()] for line in GR17.strip().splitlines()]
    found = np.zeros((17, 17))
    for i, row in enumerate(rows, 1):
        found[i, :i] = found[:i, i] = row
    return found


def tour(costs):
    """Close the cheapest path from stop 0 over all others: the way home is paid by the stop that the path begins at."""
    back, inner = costs[1:, 0], costs[1:, 1:]
    # Walked backwards, the path begins where the tour ends, and its last step is paid for reaching stop 0's neighbour.
    stops = len(inner)
    out = np.full((stops + 1, stops + 1), 1e9)
    out[:stops, :stops] = inner.T
    out[:stops, stops] = costs[0, 1:]
    return path_cost(*(args := (np.append(back, 1e9), out)), exact_path(*args))


def open_path(costs, first):
    others = [i for i in range(len(costs)) if i != first]
    start, step = costs[first, others], costs[np.ix_(others, others)]
    return path_cost(start, step, exact_path(start, step))


def best_open(costs):
    start = np.zeros(len(costs))
    return path_cost(start, costs, exact_path(start, costs))


def test_published_small_tours():
    # Two examples that textbooks of the method print: a symmetric one of 80 and an asymmetric one of 21.
    symmetric = np.array([[0, 10, 15, 20], [10, 0, 35, 25], [15, 35, 0, 30], [20, 25, 30, 0]], float)
    asymmetric = np.array([[0, 2, 9, 10], [1, 0, 6, 4], [15, 7, 0, 8], [6, 3, 12, 0]], float)
    assert tour(symmetric) == 80
    assert tour(asymmetric) == 21


def test_gr17_whole():
    assert open_path(gr17(), 0) == 1707


def test_gr17_first_ten():
    ten = gr17()[:10, :10]
    assert tour(ten) == 1637
    assert open_path(ten, 0) == 1327
    assert best_open(ten) == 1175


def test_the_long_way_comes_near_the_proved_best():
    start, costs = np.zeros(17), gr17()
    path = near_path(start, costs)
    assert sorted(path) == list(range(17))
    assert 1564 <= path_cost(start, costs, path) <= 1564 * 1.05


def test_an_order_that_is_given_is_only_laid_the_best_way():
    """Each stop in two ways: against all ways there are."""
    rng = np.random.default_rng(5)
    for stops in (1, 2, 5):
        start, step = rng.integers(1, 20, 2 * stops).astype(float), rng.integers(1, 20, (2 * stops,) * 2).astype(float)
        order = rng.permutation(stops).tolist()
        ways = itertools.product((0, 1), repeat=stops)
        paths = [[2 * stop + way for stop, way in zip(order, each, strict=True)] for each in ways]
        best = min(path_cost(start, step, path) for path in paths)
        found = fixed_path(start, step, order, 2)
        assert [state // 2 for state in found] == order
        assert path_cost(start, step, found) == best


def test_what_is_allowed_nowhere_has_no_path():
    start, step = np.zeros(2), np.zeros((2, 2))
    with pytest.raises(ValueError, match="allowed"):
        exact_path(start, step, 1, np.zeros((2, 2), bool))


def test_gr17_by_the_long_way_from_its_first_town():
    """1707 is the proved best from there."""
    costs = gr17()
    start, step = costs[0, 1:], costs[1:, 1:]
    assert 1707 <= path_cost(start, step, near_path(start, step)) <= 1707 * 1.05


def test_rules_by_place_hold_on_the_long_way_too():
    """Of 20 stops, five come first, one is held at the tenth place; every stop once, and no worse than unbettered."""
    rng = np.random.default_rng(11)
    step = rng.integers(1, 100, (20, 20)).astype(float)
    allowed = np.zeros((20, 20), bool)
    allowed[:5, :5] = True
    allowed[10, 19] = True
    allowed[np.ix_([*range(5, 10), *range(11, 20)], range(5, 19))] = True
    path = near_path(step[0], step, 1, allowed)
    assert sorted(path) == list(range(20))
    assert all(allowed[place, stop] for place, stop in enumerate(path))


def test_no_path_costs_less_than_the_least():
    """Against proved paths; and met where stops lie in a row."""
    rng = np.random.default_rng(2)
    for _ in range(40):
        start, step = rng.integers(1, 30, 12).astype(float), rng.integers(1, 30, (12, 12)).astype(float)
        assert least_cost(start, step, 2) <= path_cost(start, step, exact_path(start, step, 2))
    row = np.abs(np.subtract.outer(np.arange(9.0), np.arange(9.0)))
    assert least_cost(row[0, 1:], row[1:, 1:]) == 8 == path_cost(row[0, 1:], row[1:, 1:], range(8))
