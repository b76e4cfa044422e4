"""Which blank goes to which build: the best over all at once, with a certificate that it is the best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

FAR: Final = np.iinfo(np.int64).max // 4  # further than any path: four of them still fit


@dataclass(frozen=True, slots=True)
class Assignment:
    """Who goes where, and the prices that prove it.

    Attributes
    ----------
    columns : ndarray of int, shape (rows,)
        The column of each row, -1 for a row that is left out.
    row_price, column_price : ndarray of int64, shapes (rows,) and (columns,)
        A dual solution. For every pair that is possible, the prices of its row and its column come to no more than
        it costs, and to just that where the pair is chosen. A row's price is no more than leaving it out costs, and
        just that where it is left out. A column's price is never above 0, and is 0 where nobody takes it.
    cost : int
        What the whole costs; the sum of all prices, which no other assignment can go below.
    """

    columns: np.ndarray
    row_price: np.ndarray
    column_price: np.ndarray
    cost: int


def assign(cost: np.ndarray, possible: np.ndarray, left_out: np.ndarray) -> Assignment:
    """Give each row a column of its own, or leave it out, so that the whole costs least.

    Parameters
    ----------
    cost : ndarray of int, shape (rows, columns)
        What each pair costs; whole numbers, so that the answer is exact. Not read where a pair is not possible.
    possible : ndarray of bool, shape (rows, columns)
        Which pairs there may be at all.
    left_out : ndarray of int, shape (rows,)
        What it costs to leave a row out.

    Returns
    -------
    Assignment

    Raises
    ------
    ValueError
        If a cost is too large for the sums to be exact.

    Notes
    -----
    Shortest augmenting paths with potentials (the Hungarian method in the form of Edmonds & Karp, J. ACM 19, 1972,
    and Tomizawa, Networks 1, 1971): a row at a time, each along the path that adds least. A path may end at a free
    column, or at a row on it that is left out instead. rows² sweeps over the columns at most.
    """
    cost = np.where(possible, np.asarray(cost), 0).astype(np.int64)
    left_out = np.asarray(left_out).astype(np.int64)
    near = _near_enough(cost, possible)
    if near.size < cost.shape[1]:
        few = assign(cost[:, near], possible[:, near], left_out)
        columns, column_price = np.full(len(cost), -1), np.zeros(cost.shape[1], np.int64)
        columns[few.columns >= 0] = near[few.columns[few.columns >= 0]]
        column_price[near] = few.column_price
        return Assignment(columns, few.row_price, column_price, few.cost)
    rows, columns = cost.shape
    largest = max(_largest(cost), _largest(left_out))
    if largest >= FAR // (4 * max(rows, 1)):
        raise ValueError("These costs are too large to add up exactly.")
    row_price, column_price = np.zeros(rows, np.int64), np.zeros(columns, np.int64)
    taken_by, goes_to = np.full(columns, -1), np.full(rows, -1)
    for first in range(rows):
        way, way_from = np.full(columns, FAR), np.full(columns, -1)
        settled = np.zeros(columns, bool)
        passed, row, at = [(first, 0)], first, 0
        least_out, out, end = FAR, -1, -1
        while True:
            if at + left_out[row] - row_price[row] < least_out:
                least_out, out = at + left_out[row] - row_price[row], row
            step = at + cost[row] - row_price[row] - column_price
            shorter = possible[row] & ~settled & (step < way)
            way[shorter], way_from[shorter] = step[shorter], row
            reach = np.where(settled, FAR, way)
            nearest = int(reach.argmin()) if columns else -1
            if nearest < 0 or least_out <= reach[nearest]:
                total = least_out
                break
            settled[nearest], at = True, reach[nearest]
            if taken_by[nearest] < 0:
                total, end, out = at, nearest, -1
                break
            row = int(taken_by[nearest])
            passed.append((row, at))
        for row, at in passed:
            row_price[row] += total - at
        column_price[settled] -= total - way[settled]
        if out >= 0:
            end, goes_to[out] = int(goes_to[out]), -1
        while end >= 0:
            row = int(way_from[end])
            taken_by[end], goes_to[row], end = row, end, int(goes_to[row])
    chosen = np.flatnonzero(goes_to >= 0)
    whole = sum(map(int, cost[chosen, goes_to[chosen]])) + sum(map(int, left_out[goes_to < 0]))
    return Assignment(goes_to, row_price, column_price, whole)


def _near_enough(cost: np.ndarray, possible: np.ndarray) -> np.ndarray:
    """Name the columns that matter: of those of a row, as many of the cheapest as there are rows.

    The other rows cannot take them all, and what is left of them is no dearer than whatever stands further down.
    """
    rows, columns = cost.shape
    if not 0 < rows < columns:
        return np.arange(columns)
    reached = np.where(possible, cost, FAR)
    first = np.argpartition(reached, rows - 1, axis=1)[:, :rows]
    return np.unique(first)


def one_after_another(levels: Sequence[np.ndarray], rows: int) -> np.ndarray:
    """Make one cost of several, of which an earlier one always counts for more than all that follow.

    Parameters
    ----------
    levels : sequence of ndarray of int, shape (rows, columns)
        Costs, none negative, the one that counts most first.
    rows : int
        How many of each are added up at most.

    Returns
    -------
    ndarray of int64, shape (rows, columns)

    Raises
    ------
    ValueError
        If they do not fit into one whole number.
    """
    whole, room = np.zeros(np.shape(levels[0]), np.int64), 1
    for level in reversed(levels):
        level = np.asarray(level).astype(np.int64)
        if level.size and level.min() < 0:
            raise ValueError("A cost is negative.")
        whole += level * room
        room *= rows * _largest(level) + 1
        if room >= FAR:
            raise ValueError("These costs are too large to be told apart in one number.")
    return whole


def price_of_leaving_out(classes: np.ndarray, cost: np.ndarray, possible: np.ndarray) -> np.ndarray:
    """Price leaving rows out so that as many are served as can be and, of those, the earlier classes first.

    Parameters
    ----------
    classes : ndarray of int, shape (rows,)
        0 for the rows that go first, 1 for those after them, and so on.
    cost, possible : ndarray, shape (rows, columns)
        As for `assign`.

    Returns
    -------
    ndarray of int64, shape (rows,)

    Notes
    -----
    The sets of rows that can be served together are the independent sets of a matroid (Edmonds & Fulkerson, J. Res.
    NBS 69B, 1965): one that is largest, and best by class, is best under any prices that fall from class to class.
    So steps as large as all costs together will do; they need not grow by powers.
    """
    above_all = sum(map(int, np.where(possible, cost, 0).max(axis=1, initial=0))) + 1
    classes = np.asarray(classes).astype(np.int64)
    return above_all * (1 + classes.max(initial=0) - classes)


def share_out(demand: Sequence[int], stock: Sequence[int], serves: np.ndarray) -> np.ndarray:
    """Share stock out to demands, those that stand first before the others, as much as there can be in all.

    Parameters
    ----------
    demand : sequence of int
        How many each asks for.
    stock : sequence of int
        How many there are of each kind.
    serves : ndarray of bool, shape (demands, kinds)
        Which kind will do for which demand.

    Returns
    -------
    ndarray of int, shape (demands, kinds)
        How many of each kind go to each demand. What goes to an earlier demand never shrinks for a later one.
    """
    given = np.zeros((len(demand), len(stock)), np.int64)
    left = np.array(stock, np.int64)
    for place, wanted in enumerate(demand):
        while wanted > 0 and (way := _way_to_stock(place, given, left, serves)):
            last = way[-1][1]
            # Along the way each demand takes of the next kind and gives back of the one before.
            gives = [given[way[step + 1][0], way[step][1]] for step in range(len(way) - 1)]
            amount = int(min([wanted, left[last], *gives]))
            for step, (row, kind) in enumerate(way):
                given[row, kind] += amount
                if step + 1 < len(way):
                    given[way[step + 1][0], kind] -= amount
            left[last] -= amount
            wanted -= amount
    return given


def _way_to_stock(first: int, given: np.ndarray, left: np.ndarray, serves: np.ndarray) -> list[tuple[int, int]] | None:
    """Find the shortest way from a demand to a kind of which some is left, over demands that can do with another."""
    came: dict[int, tuple[int, int] | None] = {first: None}
    queue = [first]
    seen = np.zeros(len(left), bool)
    for row in queue:
        for kind in np.flatnonzero(serves[row] & ~seen).tolist():
            seen[kind] = True
            if left[kind] > 0:
                way, step = [(row, kind)], came[row]
                while step is not None:
                    way.append(step)
                    step = came[step[0]]
                return way[::-1]
            for other in np.flatnonzero(given[:, kind] > 0).tolist():
                if other not in came:
                    came[other] = (row, kind)
                    queue.append(other)
    return None


def _largest(numbers: np.ndarray) -> int:
    return int(np.abs(numbers).max(initial=0))
