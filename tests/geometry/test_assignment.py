"""The best assignment: against exhaustive search, textbook tables, and by a certificate that needs no second solver."""

from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geometry.assignment import Assignment, assign, one_after_another, price_of_leaving_out, share_out


def proves_itself(found: Assignment, cost: np.ndarray, possible: np.ndarray, left_out: np.ndarray) -> None:
    """Complementary slackness: with prices like these, no assignment can cost less (linear programming duality)."""
    rows, columns = found.row_price, found.column_price
    assert (rows[:, None] + columns[None, :] <= cost)[possible].all()
    assert (rows <= left_out).all() and (columns <= 0).all()
    served = np.flatnonzero(found.columns >= 0)
    at = found.columns[served]
    assert len(set(at.tolist())) == len(at), "a column goes to one row"
    assert possible[served, at].all()
    assert (rows[served] + columns[at] == cost[served, at]).all()
    assert (rows[found.columns < 0] == left_out[found.columns < 0]).all()
    nobody = np.ones(len(columns), bool)
    nobody[at] = False
    assert (columns[nobody] == 0).all()
    assert found.cost == rows.sum() + columns.sum()


def by_trying_all(cost: np.ndarray, possible: np.ndarray, left_out: np.ndarray) -> int:
    rows, columns = cost.shape
    places = [*range(columns), *[-1] * rows]
    best = None
    for tried in set(permutations(places, rows)):
        if all(at < 0 or possible[row, at] for row, at in enumerate(tried)):
            whole = sum(int(left_out[row] if at < 0 else cost[row, at]) for row, at in enumerate(tried))
            best = whole if best is None else min(best, whole)
    return best


@st.composite
def tables(draw: st.DrawFn, most: int = 4, largest: int = 9) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rows, columns = draw(st.integers(0, most)), draw(st.integers(0, most))
    numbers = st.integers(0, largest)
    cost = np.array(draw(st.lists(numbers, min_size=rows * columns, max_size=rows * columns)), np.int64)
    possible = np.array(draw(st.lists(st.booleans(), min_size=rows * columns, max_size=rows * columns)), bool)
    left_out = np.array(draw(st.lists(numbers, min_size=rows, max_size=rows)), np.int64)
    return cost.reshape(rows, columns), possible.reshape(rows, columns), left_out


@given(tables())
@settings(max_examples=300)
def test_it_works_as_well_as_trying_all(table: tuple[np.ndarray, np.ndarray, np.ndarray]) -> None:
    found = assign(*table)
    assert found.cost == by_trying_all(*table)
    proves_itself(found, *table)


@pytest.mark.parametrize(("rows", "columns"), [(1, 1), (5, 40), (40, 5), (50, 200), (60, 60)])
@pytest.mark.parametrize("seed", range(4))
def test_many_prove_themselves(rows: int, columns: int, seed: int) -> None:
    random = np.random.default_rng([rows, columns, seed])
    cost = random.integers(0, [10, 1000, 10**12, 3][seed], (rows, columns))
    possible = random.random((rows, columns)) < [0.9, 0.3, 0.05, 0.5][seed]
    left_out = random.integers(0, [10, 2000, 10**13, 3][seed], rows)
    proves_itself(assign(cost, possible, left_out), cost, possible, left_out)


@pytest.mark.parametrize(
    ("cost", "least"),
    [
        # A worked example that books on operations research share, from memory: four jobs, four machines.
        ([[82, 83, 69, 92], [77, 37, 49, 92], [11, 69, 5, 86], [8, 9, 98, 23]], 140),
        # Machol & Wien, Operations Research 24 (1976), from memory: C[i][j] = i*j turns every row over; the least
        # is the sum of i*(n+1-i), which follows from the rearrangement inequality as well.
        ([[i * j for j in range(1, 11)] for i in range(1, 11)], sum(i * (11 - i) for i in range(1, 11))),
    ],
)
def test_tables_from_books(cost: list[list[int]], least: int) -> None:
    table = np.array(cost)
    everywhere, never = np.ones(table.shape, bool), np.full(len(table), 10**6)
    found = assign(table, everywhere, never)
    assert found.cost == least
    assert sorted(found.columns.tolist()) == list(range(len(table)))
    proves_itself(found, table, everywhere, never)


def test_one_by_one_would_be_worse() -> None:
    """The first takes its cheapest and leaves the second the dear one: 1 + 100; over all, 2 + 1."""
    cost = np.array([[1, 2], [1, 100]])
    found = assign(cost, np.ones((2, 2), bool), np.array([1000, 1000]))
    assert (found.columns.tolist(), found.cost) == ([1, 0], 3)


def test_costs_beyond_what_adds_up_exactly_are_refused() -> None:
    table = np.array([[2**62]])
    with pytest.raises(ValueError, match="too large"):
        assign(table, np.ones((1, 1), bool), np.array([1]))
    with pytest.raises(ValueError, match="too large"):
        one_after_another([np.array([[2**40]]), np.array([[2**40]])], 1)
    with pytest.raises(ValueError, match="negative"):
        one_after_another([np.array([[-1]])], 1)


@given(tables(most=3, largest=4), st.data())
@settings(max_examples=200)
def test_an_earlier_level_counts_for_more_than_all_later_ones(
    table: tuple[np.ndarray, np.ndarray, np.ndarray], data: st.DataObject
) -> None:
    """Held against a search that compares sums level by level: served by class, then one cost, then the other."""
    first, possible, _ = table
    rows, columns = first.shape
    numbers = st.lists(st.integers(0, 4), min_size=rows * columns, max_size=rows * columns)
    second = np.array(data.draw(numbers), np.int64).reshape(rows, columns)
    classes = np.array(data.draw(st.lists(st.integers(0, 2), min_size=rows, max_size=rows)), np.int64)
    cost = one_after_another([first, second], rows)
    found = assign(cost, possible, price_of_leaving_out(classes, cost, possible))

    def score(columns_of: list[int]) -> tuple:
        served = [row for row, at in enumerate(columns_of) if at >= 0]
        by_class = tuple(-sum(classes[row] == rank for row in served) for rank in range(3))
        sums = tuple(sum(int(level[row, columns_of[row]]) for row in served) for level in (first, second))
        return -len(served), by_class, sums

    tried = [
        list(way)
        for way in product(range(-1, columns), repeat=rows)
        if len({at for at in way if at >= 0}) == sum(at >= 0 for at in way)
        and all(at < 0 or possible[row, at] for row, at in enumerate(way))
    ]
    assert score(found.columns.tolist()) == min(map(score, tried))


@given(st.data())
@settings(max_examples=200)
def test_stock_is_shared_out_to_the_first_first(data: st.DataObject) -> None:
    """Against the assignment with every piece by itself: as many in all, and as many for each in its turn."""
    demands, kinds = data.draw(st.integers(0, 4)), data.draw(st.integers(0, 4))
    demand = data.draw(st.lists(st.integers(0, 3), min_size=demands, max_size=demands))
    stock = data.draw(st.lists(st.integers(0, 3), min_size=kinds, max_size=kinds))
    flags = data.draw(st.lists(st.booleans(), min_size=demands * kinds, max_size=demands * kinds))
    serves = np.array(flags, bool).reshape(demands, kinds)
    shared = share_out(demand, stock, serves)
    assert (shared >= 0).all() and not shared[~serves].any()
    assert (shared.sum(axis=0) <= stock).all() and (shared.sum(axis=1) <= demand).all()

    rows = [row for row, wanted in enumerate(demand) for _ in range(wanted)]
    columns = [kind for kind, there in enumerate(stock) for _ in range(there)]
    possible = serves[np.ix_(rows, columns)] if rows and columns else np.zeros((len(rows), len(columns)), bool)
    nothing = np.zeros(possible.shape, np.int64)
    found = assign(nothing, possible, price_of_leaving_out(np.array(rows, np.int64), nothing, possible))
    served = [
        sum(found.columns[piece] >= 0 for piece, row in enumerate(rows) if row == place) for place in range(demands)
    ]
    assert shared.sum(axis=1).tolist() == served
