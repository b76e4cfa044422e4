"""The order of runs: against every order there is, under the rules that a shop sets."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.changeover import MOST_PROVED, Machine, keep_order, order_runs
from tests.geometry.samples import steady

JIG = Machine(
    {"head": 4.0, "heel": 4.0, "riser": 2.0, "cutter": 6.0, "depth": 3.0},
    ("head", "heel"),
    {"depth": ("riser", "cutter")},
)
SAW = Machine({"scale": 5.0, "blade": 10.0, "slot depth": 5.0}, anew={"slot depth": ("blade",)})
ROLLER = Machine({"thickness": 5.0})


def jig(head, heel, riser="in", cutter="flat", depth=6):
    return {"head": head, "heel": heel, "riser": riser, "cutter": cutter, "depth": depth}


BLOCK = {"block": "Twelve hollow"}  # taken from its drawer: no place of the jig

names = st.sampled_from("ABC")
on_the_jig = st.builds(jig, names, names, st.sampled_from(["in", "out"]), st.sampled_from(["flat", "bowl"]))
at_the_saw = st.fixed_dictionaries({place: st.integers(1, 2) for place in SAW.minutes})
rolled = st.fixed_dictionaries({"thickness": st.integers(1, 6)})


@st.composite
def queues(draw, most, setups=5):
    """A machine, what stands there, boards that need at most so many setups, which are urgent, which are pinned."""
    machine, need = draw(st.sampled_from([(JIG, on_the_jig), (SAW, at_the_saw), (ROLLER, rolled)]))
    kinds = draw(st.lists(need if machine is not JIG else need | st.just(BLOCK), min_size=1, max_size=setups))
    needs = draw(st.lists(st.sampled_from(kinds), min_size=1, max_size=most))
    needs = [machine.turned(each) if draw(st.booleans()) else each for each in needs]
    now = draw(need | st.just({}))
    urgent = draw(st.sets(st.integers(0, len(needs) - 1)))
    pinned = {machine.setup(each): draw(st.integers(0, 6)) for each in draw(st.lists(st.sampled_from(kinds)))}
    return machine, needs, now, urgent, pinned


def minutes_of(machine, now, stops):
    """Add up what a way through setups costs; those that need nothing of the machine are passed over."""
    total = 0.0
    for stop in stops:
        if not stop.keys() & machine.minutes.keys():
            continue
        unlike = {place for place in machine.minutes if place not in now or now[place] != stop[place]}
        unlike |= {place for place, after in machine.anew.items() if unlike & set(after)}
        total += sum(machine.minutes[place] for place in unlike)
        now = stop
    return total


def places_of(stops, pinned):
    """Say where the pinned go, from the front: each as near to its place as those before and behind it let it."""
    wanted = sorted((pinned[key], number) for number, key in enumerate(stops) if key in pinned)
    found, least = {}, 0
    for number, (place, stop) in enumerate(wanted):
        found[stop] = max(least, min(place, len(stops) - len(wanted) + number))
        least = found[stop] + 1
    return found


def by_hand(machine, needs, now, urgent, pinned):
    """Try every order of the distinct setups that keeps to the rules, each either way round."""
    boards = {}
    for number, need in enumerate(needs):
        boards.setdefault(machine.setup(need), []).append(number)
    stops = list(boards)
    soon = {number for number, key in enumerate(stops) if urgent.intersection(boards[key])}
    at = places_of(stops, pinned)
    best = np.inf
    for order in itertools.permutations(range(len(stops))):
        if any(order[place] != stop for stop, place in at.items()):
            continue
        rest = [stop in soon for stop in order if stop not in at]
        if rest != sorted(rest, reverse=True):
            continue
        setups = [needs[boards[stops[stop]][0]] for stop in order]
        for ways in itertools.product((False, True), repeat=len(order) if machine.swapped else 0):
            laid = [machine.turned(s) if way else s for s, way in zip(setups, ways, strict=True)] if ways else setups
            best = min(best, minutes_of(machine, now, laid))
    return best


@steady
@given(queues(most=7, setups=4))
def test_no_order_that_keeps_to_the_rules_costs_less(queue):
    machine, needs, now, urgent, pinned = queue
    order = order_runs(needs, now, machine, urgent=urgent, pinned=pinned)
    assert order.minutes == pytest.approx(by_hand(machine, needs, now, urgent, pinned))
    assert order.proved


def whole(order, machine, needs, now):
    """Every board once, on what it needs, and the minutes as they add up."""
    assert sorted(board for run in order.runs for board in run.boards) == list(range(len(needs)))
    for run in order.runs:
        assert list(run.boards) == sorted(run.boards)
        for board in run.boards:
            assert run.pieces == (machine.turned(needs[board]) if board in run.turned else needs[board])
        assert run.minutes == pytest.approx(sum(machine.minutes[place] for place in run.changed))
    assert order.minutes == pytest.approx(minutes_of(machine, now, [run.pieces for run in order.runs]))
    assert len({machine.setup(run.pieces) for run in order.runs}) == len(order.runs)


@steady
@given(queues(most=40, setups=18))
def test_every_board_is_run_once_on_what_it_needs(queue):
    machine, needs, now, urgent, pinned = queue
    order = order_runs(needs, now, machine, urgent=urgent, pinned=pinned)
    whole(order, machine, needs, now)
    assert order == order_runs(needs, now, machine, urgent=urgent, pinned=pinned)
    stops = list(dict.fromkeys(map(machine.setup, needs)))
    at = places_of(stops, pinned)
    for stop, place in at.items():
        assert machine.setup(order.runs[place].pieces) == stops[stop]
    free = [run for place, run in enumerate(order.runs) if place not in at.values()]
    soon = [bool(urgent.intersection(run.boards)) for run in free]
    assert soon == sorted(soon, reverse=True), "what is due inside the horizon goes first"


@steady
@given(queues(most=12))
def test_a_given_order_is_reckoned_as_given(queue):
    machine, needs, now, *_ = queue
    order = keep_order(needs, now, machine)
    whole(order, machine, needs, now)
    assert [machine.setup(run.pieces) for run in order.runs] == list(dict.fromkeys(map(machine.setup, needs)))
    assert order.minutes >= order_runs(needs, now, machine).minutes - 1e-9
    assert not order.proved


def test_boards_that_need_the_same_add_nothing():
    needs = [jig("A", "B"), jig("C", "C")]
    again = [*needs, needs[0], needs[1], JIG.turned(needs[0])]
    first, second = (order_runs(queue, {}, JIG) for queue in (needs, again))
    assert first.minutes == second.minutes
    assert second.runs[0].boards == (0, 2, 4) and second.runs[0].turned == (4,)


def test_a_board_is_turned_rather_than_the_jig():
    order = order_runs([jig("A", "B")], jig("B", "A"), JIG)
    assert order.minutes == 0
    assert order.runs[0].turned == (0,)
    assert order.runs[0].pieces == jig("B", "A")


def test_what_stands_already_comes_first():
    here, there = jig("A", "A"), jig("B", "C", riser="out")
    order = order_runs([there, here], here, JIG)
    assert [run.boards for run in order.runs] == [(1,), (0,)]
    assert [run.minutes for run in order.runs] == [0, 4 + 4 + 2 + 3], "both formers, the riser, the depth anew"


def test_a_board_that_is_not_urgent_goes_through_with_one_that_is():
    here, there = jig("A", "A"), jig("B", "B")
    order = order_runs([here, there, there], here, JIG, urgent={2})
    assert [run.boards for run in order.runs] == [(1, 2), (0,)]


def test_a_pin_goes_before_what_is_urgent():
    here, there = jig("A", "A"), jig("B", "B")
    order = order_runs([here, there], here, JIG, urgent={1}, pinned={JIG.setup(here): 0})
    assert [run.boards for run in order.runs] == [(0,), (1,)]


def test_a_setup_that_names_only_some_places_is_no_setup():
    with pytest.raises(ValueError, match="every place or none"):
        order_runs([{"head": "A"}], {}, JIG)


def test_nothing_to_run():
    assert order_runs([], {}, JIG).runs == ()
    assert order_runs([], {}, JIG).proved


def test_twelve_setups_are_proved_and_more_only_where_no_order_could_cost_less():
    # Each former stands at two boards: whatever the order, some have to go on twice, or not; nobody has proved it.
    needs = [jig(f"F{n}", f"F{n * 5 % 13}", "in" if n % 3 else "out") for n in range(MOST_PROVED + 1)]
    proved, near = order_runs(needs[:-1], {}, JIG), order_runs(needs, {}, JIG)
    assert proved.proved and len(proved.runs) == MOST_PROVED
    assert not near.proved and len(near.runs) == MOST_PROVED + 1
    assert near.minutes >= proved.minutes
    # One place that changes each time: a new thickness for each, whatever the order.
    rolls = order_runs([{"thickness": n} for n in range(40)], {"thickness": 7}, ROLLER)
    assert rolls.proved and rolls.minutes == 39 * 5


def test_the_long_way_against_the_exact_one(monkeypatch):
    """On queues small enough to prove, the long way is seldom off, and by little."""
    rng = np.random.default_rng(3)
    over = []
    for _ in range(30):
        needs = [
            jig(*"ABCDEF"[h : h + 1], *"ABCDEF"[t : t + 1], "in" if r else "out", f"cutter {c}")
            for h, t, r, c in rng.integers(0, [6, 6, 2, 3], (10, 4)).tolist()
        ]
        urgent = set(rng.choice(10, 4, replace=False).tolist())
        exact = order_runs(needs, {}, JIG, urgent=urgent)
        with monkeypatch.context() as patch:
            patch.setattr("geometry.changeover.MOST_PROVED", 0)
            near = order_runs(needs, {}, JIG, urgent=urgent)
        assert exact.minutes <= near.minutes <= exact.minutes * 1.1
        over.append(near.minutes / exact.minutes - 1)
    assert np.mean(over) <= 0.02
