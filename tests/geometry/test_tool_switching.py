"""The jig as a magazine of two tools: against an independent method from the literature of tool switching.

The problem: jobs need sets of tools, a magazine holds C of them, and the order with the fewest switches is wanted. For
a given order, keeping the tool that is needed soonest is best (Tang & Denardo 1988, Operations Research 36(5),
767-777). Over all orders that gives the optimum; here it is first held against published instances, and then the jig
against it.

Where they are the same: two places, every board needs two different formers, and nothing else changes. Then a board
can always be turned so that a former that it shares with the one before stays where it is, and a former costs one
switch. Where they are not: two formers of one kind are two pieces (a set holds a tool once).
"""

import itertools
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.changeover import Machine, order_runs
from tests.geometry.samples import steady


def setups_of(jobs, order, places, loaded=frozenset()):
    """Keep the tool needed soonest: how many tools are put in, the first ones included."""
    magazine, put_in = set(loaded), 0
    for at, job in enumerate(order):
        needed = jobs[job]
        put_in += len(needed - magazine)
        magazine |= needed

        def next_use(tool, at=at):
            return next((later for later in range(at + 1, len(order)) if tool in jobs[order[later]]), len(order))

        spare = sorted(magazine - needed, key=next_use)
        magazine = needed | set(spare[: places - len(needed)])
    return put_in


def fewest_setups(jobs, places, loaded=frozenset()):
    return min(setups_of(jobs, order, places, loaded) for order in itertools.permutations(range(len(jobs))))


def jobs_of(matrix):
    """Read an instance with a row for each tool and a column for each job."""
    rows = [line.split() for line in matrix.strip().splitlines()]
    return [{tool for tool, row in enumerate(rows) if row[job] == "1"} for job in range(len(rows[0]))]


# Ten jobs, nine tools, C = 4. The first six are instance 1 of da Silva, Chaves & Yanasse (2021), optimum 7 switches;
# the last four are subsets of others and add nothing. An open test suite expects 11 setups for all ten.
SIX = [{1, 4, 8, 9}, {1, 3, 5}, {2, 6, 7, 8}, {1, 5, 7, 9}, {3, 5, 8}, {1, 2, 4}]
TEN = [*SIX, {1}, {6}, {3}, {5, 7}]
# Catanzaro, Gouveia & Labbé (2015), set A1, problem 1 of the data files: ten jobs, ten tools, C = 4.
A1 = """
0 0 1 1 0 1 0 0 1 1
0 1 0 0 0 0 0 0 0 1
0 1 0 0 0 1 0 0 0 0
0 0 0 0 0 0 0 0 1 1
0 0 0 1 1 0 1 1 1 0
1 0 1 0 0 1 1 0 0 0
1 0 0 0 0 0 0 1 0 0
0 0 0 0 1 1 1 1 1 0
0 0 1 1 0 0 1 0 0 0
0 0 0 0 1 0 0 0 0 1
"""
A1_BEST = [0, 1, 5, 2, 6, 3, 4, 7, 8, 9]
# Crama et al. (1994), table 1, set 1, instance 3: ten jobs, ten tools, C = 4.
CRAMA = """
1 0 0 0 0 1 0 0 1 1
0 0 0 0 1 0 1 0 0 0
0 0 1 1 0 1 0 0 0 0
0 0 0 1 0 0 0 1 0 0
0 1 1 0 0 0 0 0 0 1
1 1 0 0 0 0 1 1 1 0
0 1 0 0 0 1 1 1 1 0
0 0 0 0 1 0 1 0 1 0
1 1 0 0 1 0 0 0 0 0
1 0 0 0 0 1 0 0 0 0
"""
CRAMA_BEST = [0, 1, 2, 9, 5, 3, 7, 8, 6, 4]
# Yanasse & Senne: 15 jobs, 15 tools, C = 10; two orders that were found with 13 switches.
FIFTEEN = [
    {3, 7, 10, 11},
    {1, 3, 5, 8, 11},
    {2, 5, 9, 11, 14},
    {7, 8, 9, 11, 13, 14},
    {1, 4, 5, 11, 12, 14},
    {2, 3, 5, 7, 11, 13},
    {1, 2, 5, 8, 10, 11, 12},
    {4, 7, 8, 11, 12, 13, 14},
    {1, 3, 5, 6, 7, 9, 11, 15},
    {1, 4, 5, 6, 7, 8, 9, 10},
    {4, 5, 7, 8, 9, 10, 11, 13},
    {2, 3, 4, 5, 9, 10, 13, 14, 15},
    {1, 2, 5, 8, 9, 10, 12, 14, 15},
    {3, 4, 5, 6, 8, 9, 11, 12, 13, 14},
    {1, 2, 4, 7, 9, 10, 12, 13, 14, 15},
]
FOUND = ([3, 12, 6, 11, 1, 8, 4, 14, 5, 9, 2, 10, 7, 13, 15], [2, 9, 10, 1, 11, 14, 8, 4, 6, 12, 15, 13, 7, 3, 5])


def test_the_independent_method_against_published_instances():
    """Switches do not count the first C tools; setups do."""
    assert fewest_setups(SIX, 4) - 4 == 7
    assert setups_of(SIX, range(6), 4) - 4 == 12
    assert setups_of(TEN, range(10), 4) - 4 == 15
    # Published best: 14 setups and 14. The orders are of an exhaustive search, in another language, over all of them.
    assert setups_of(jobs_of(A1), A1_BEST, 4) == 14
    assert setups_of(jobs_of(CRAMA), CRAMA_BEST, 4) == 14
    assert setups_of(jobs_of(CRAMA), range(10), 4) - 4 == 15
    for order in FOUND:
        assert setups_of(FIFTEEN, [job - 1 for job in order], 10) - 10 == 13


def test_jobs_that_are_parts_of_others_add_nothing():
    """All ten: an order of the six with each part right behind what it is part of costs what the six cost."""
    best = min(itertools.permutations(range(6)), key=lambda order: setups_of(SIX, order, 4))
    behind = {6: 0, 7: 2, 8: 1, 9: 3}  # {1}, {6}, {3}, {5, 7} and jobs that have all of them
    order = [job for first in best for job in (first, *(part for part, of in behind.items() if of == first))]
    assert setups_of(TEN, order, 4) == 11


TWO = Machine({"head": 1.0, "heel": 1.0}, ("head", "heel"))


def boards_of(jobs, rng):
    """Lay each board some way round."""
    laid = [rng.sample(sorted(job), 2) for job in jobs]
    return [{"head": head, "heel": heel} for head, heel in laid]


pairs = st.lists(st.sets(st.integers(1, 6), min_size=2, max_size=2), min_size=1, max_size=6)


@steady
@given(pairs, st.integers(0, 1000))
def test_the_jig_costs_what_a_magazine_of_two_costs(jobs, seed):
    order = order_runs(boards_of(jobs, random.Random(seed)), {}, TWO)
    assert order.proved
    assert order.minutes == fewest_setups(jobs, 2)


@steady
@given(pairs, st.sets(st.integers(1, 6), min_size=2, max_size=2), st.integers(0, 1000))
def test_and_from_what_stands_on_it(jobs, loaded, seed):
    rng = random.Random(seed)
    (now,) = boards_of([loaded], rng)
    assert order_runs(boards_of(jobs, rng), now, TWO).minutes == fewest_setups(jobs, 2, frozenset(loaded))


def test_a_jig_is_no_magazine_where_both_ends_take_the_same():
    """One A in a magazine serves a job that needs A; a board with A at both ends needs two of them."""
    order = order_runs([{"head": "A", "heel": "A"}, {"head": "A", "heel": "B"}], {}, TWO)
    assert order.minutes == 3
    assert fewest_setups([{"A"}, {"A", "B"}], 2) == 2


@pytest.mark.parametrize("extra", ["riser", "cutter"])
def test_nor_where_something_else_changes_as_well(extra):
    machine = Machine({**TWO.minutes, extra: 1.0}, TWO.swapped)
    boards = [{"head": "A", "heel": "B", extra: 1}, {"head": "A", "heel": "B", extra: 2}]
    assert order_runs(boards, {}, machine).minutes == 4 > fewest_setups([{"A", "B"}], 2)
