"""Paths over stops against published tours, and against one another."""

import numpy as np

from geometry.paths import exact_path, near_path, path_cost

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
