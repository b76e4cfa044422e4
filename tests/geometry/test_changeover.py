import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.changeover import MOST_PROVED, Minutes, Standing, exact_path, near_path, order_runs, path_cost
from tests.geometry.samples import steady

MINUTES = Minutes(former=4.0, riser=2.0, cutter=6.0)
NOTHING = Standing(None, None, None, None)

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


names = st.sampled_from("ABC")
standings = st.builds(Standing, names, names, st.booleans(), st.sampled_from(["flat", "bowl"]))


def by_hand(needs, now, minutes):
    """Try every order of the distinct setups, each either way round."""
    distinct = []
    for need in needs:
        if need not in distinct and need.turned() not in distinct:
            distinct.append(need)
    best = np.inf
    for order in itertools.permutations(distinct):
        for ways in itertools.product((False, True), repeat=len(order)):
            stops = [setup.turned() if way else setup for setup, way in zip(order, ways, strict=True)]
            cost = sum(minutes.between(a, b) for a, b in itertools.pairwise([now, *stops]))
            best = min(best, cost)
    return best


@steady
@given(st.lists(standings, min_size=1, max_size=5), st.one_of(standings, st.just(NOTHING)))
def test_no_order_costs_less(needs, now):
    order = order_runs(needs, now, MINUTES)
    assert order.minutes == pytest.approx(by_hand(needs, now, MINUTES))
    assert order.proved


@steady
@given(st.lists(standings, max_size=40), st.one_of(standings, st.just(NOTHING)))
def test_every_board_is_run_once_on_what_it_needs(needs, now):
    order = order_runs(needs, now, MINUTES)
    assert sorted(board for run in order.runs for board in run.boards) == list(range(len(needs)))
    before, total = now, 0.0
    for run in order.runs:
        assert run.minutes == MINUTES.between(before, run.setup)
        assert list(run.boards) == sorted(run.boards)
        for board in run.boards:
            assert run.setup == (needs[board].turned() if board in run.turned else needs[board])
        before, total = run.setup, total + run.minutes
    assert order.minutes == pytest.approx(total)
    assert len({frozenset((run.setup, run.setup.turned())) for run in order.runs}) == len(order.runs)
    assert order == order_runs(needs, now, MINUTES)


def test_boards_that_need_the_same_add_nothing():
    needs = [Standing("A", "B", True, "flat"), Standing("C", "C", True, "flat")]
    again = [*needs, needs[0], needs[1].turned(), needs[0].turned()]
    first, second = (order_runs(queue, NOTHING, MINUTES) for queue in (needs, again))
    assert first.minutes == second.minutes
    assert second.runs[0].boards == (0, 2, 4) and second.runs[0].turned == (4,)


def test_a_board_is_turned_rather_than_the_jig():
    order = order_runs([Standing("A", "B", True, "flat")], Standing("B", "A", True, "flat"), MINUTES)
    assert order.minutes == 0
    assert order.runs[0].turned == (0,)
    assert order.runs[0].setup == Standing("B", "A", True, "flat")


def test_what_stands_already_comes_first():
    here, there = Standing("A", "A", True, "flat"), Standing("B", "C", False, "flat")
    order = order_runs([there, here], here, MINUTES)
    assert [run.boards for run in order.runs] == [(1,), (0,)]
    assert [run.minutes for run in order.runs] == [0, 10]


def test_nothing_to_run():
    assert order_runs([], NOTHING, MINUTES).runs == ()
    assert order_runs([], NOTHING, MINUTES).proved


def test_twelve_setups_are_proved_and_thirteen_are_not():
    needs = [Standing(f"F{n}", f"F{n + 1}", bool(n % 3), "flat") for n in range(MOST_PROVED + 1)]
    proved, near = order_runs(needs[:-1], NOTHING, MINUTES), order_runs(needs, NOTHING, MINUTES)
    assert proved.proved and len(proved.runs) == MOST_PROVED
    assert not near.proved and len(near.runs) == MOST_PROVED + 1
    assert near.minutes >= proved.minutes


def test_the_long_way_against_the_exact_one():
    """On queues small enough to prove, the long way is seldom off, and by little."""
    rng = np.random.default_rng(3)
    over = []
    for _ in range(40):
        picks = rng.integers(0, [6, 6, 2, 3], (10, 4)).tolist()
        states = [
            s
            for h, t, r, c in picks
            for one in [Standing(f"{h}", f"{t}", bool(r), f"{c}")]
            for s in (one, one.turned())
        ]
        start = np.array([MINUTES.between(NOTHING, state) for state in states])
        step = np.array([[MINUTES.between(one, other) for other in states] for one in states])
        exact, near = (path_cost(start, step, find(start, step, 2)) for find in (exact_path, near_path))
        assert exact <= near <= exact * 1.1
        over.append(near / exact - 1)
    assert np.mean(over) <= 0.02
