"""When boards will be done: against lines whose answer a textbook gives, and queueing theory."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.errors import GeometryError
from geometry.forecast import Bench, Step, draw_minutes, play
from geometry.hours import WorkingHours

ALWAYS = WorkingHours.of([(0, 1e9)])


def played_once(minutes, *, places=None, hands=99, hours=ALWAYS, ready=None, **more):
    """Play a flow line once: a row of minutes for each board, a column for each bench."""
    minutes = np.asarray(minutes, float)
    boards, stages = minutes.shape
    steps = [[Step(bench) for bench in range(stages)]] * boards
    benches = [Bench(count) for count in places or [1] * stages]
    ready = np.zeros(boards) if ready is None else np.asarray(ready, float)
    return play(steps, minutes[None], ready, benches=benches, hands=hands, hours=hours, **more)


def test_a_line_of_equal_boards_keeps_the_pace_of_its_slowest_bench():
    # Textbook answer for a deterministic flow line (for example Hopp & Spearman, Factory Physics, ch. 7: best case;
    # from memory): n boards take the sum of the stages and n - 1 times the longest one more.
    stages = [7.0, 12.0, 9.0, 4.0]
    finish = played_once([stages] * 6).finish[0]
    assert finish == pytest.approx([sum(stages) + place * max(stages) for place in range(6)])


def test_two_benches_in_johnsons_order():
    # S. M. Johnson, "Optimal two- and three-stage production schedules with setup times included", Naval Research
    # Logistics Quarterly 1, 1954. His rule gives the order; that nothing is quicker is shown by trying all.
    from itertools import permutations

    jobs = [(5, 2), (1, 6), (9, 7), (3, 8), (10, 4)]

    def makespan(order):
        first = second = 0
        for job in order:
            first += jobs[job][0]
            second = max(first, second) + jobs[job][1]
        return second

    order = [1, 3, 2, 4, 0]  # by the rule: short first stages up, short second stages down
    assert makespan(order) == min(map(makespan, permutations(range(5)))) == 30
    assert played_once([jobs[job] for job in order]).finish.max() == pytest.approx(30)


@given(st.lists(st.lists(st.integers(1, 60), min_size=3, max_size=3), min_size=1, max_size=7), st.integers(0, 10**6))
def test_any_line_against_the_recursion(minutes, seed):
    # With as many hands as benches and boards that never overtake, each board starts when the board before has left
    # the bench and it has left the bench before (the recursion of permutation flow shops).
    minutes = np.sort(np.array(minutes), axis=0)  # the shorter first at every bench: nobody could overtake
    done = np.zeros(minutes.shape)
    for board, row in enumerate(minutes):
        for bench, each in enumerate(row):
            before = done[board - 1, bench] if board else 0
            done[board, bench] = max(before, done[board, bench - 1] if bench else 0) + each
    assert played_once(minutes).finish[0] == pytest.approx(done[:, -1])


def waits(load, boards=600, runs=150, seed=11):
    """Play a bench with one place whose boards come, and are worked on, at random: waiting times by run and board."""
    random = np.random.default_rng(seed)
    come = random.exponential(1 / load, (runs, boards)).cumsum(axis=1)
    minutes = random.exponential(1.0, (runs, boards, 1))
    done = play([[Step(0)]] * boards, minutes, come, benches=[Bench(1)], hands=1, hours=ALWAYS)
    return come, minutes, done.finish - come - minutes[:, :, 0], done


@pytest.mark.parametrize("load", [0.3, 0.6])
def test_boards_at_random_wait_as_queueing_theory_says(load):
    # M/M/1: the mean wait in the queue is rho / (mu - lambda) (Erlang; Kleinrock, Queueing Systems I, 1975, ch. 3,
    # from memory). The first third of each run is left out, while the queue is still filling.
    _, _, wait, _ = waits(load)
    of_runs = wait[:, 200:].mean(axis=1)
    error = of_runs.std(ddof=1) / np.sqrt(len(of_runs))
    theory = load / (1 - load)
    assert error < 0.1 * theory
    assert abs(of_runs.mean() - theory) < 4 * error


def test_the_boards_in_the_shop_are_those_that_come_times_how_long_they_stay():
    # J. D. C. Little, "A proof for the queuing formula L = lambda W", Operations Research 9, 1961. Boards are counted
    # at moments drawn at random, not from their times of stay.
    come, _, _, done = waits(0.6, boards=300, runs=40)
    random = np.random.default_rng(5)
    for arrived, left in zip(come, done.finish, strict=True):
        end = left.max()
        moments = random.uniform(0, end, 20_000)
        inside = np.searchsorted(arrived, moments) - np.searchsorted(np.sort(left), moments)
        rate, stay = len(arrived) / end, (left - arrived).mean()
        error = inside.std() / np.sqrt(len(moments))
        assert abs(inside.mean() - rate * stay) < 5 * error


def test_one_pair_of_hands_does_one_thing_at_a_time():
    apart = [[Step(board)] for board in range(4)]
    minutes = np.full((1, 4, 1), 30.0)
    benches = [Bench(1)] * 4
    for hands, last in ((1, 120), (2, 60), (4, 30), (9, 30)):
        done = play(apart, minutes, np.zeros(4), benches=benches, hands=hands, hours=ALWAYS)
        assert done.finish.max() == pytest.approx(last)
    waited = play(apart, minutes, np.zeros(4), benches=benches, hands=1, hours=ALWAYS)
    assert waited.waited_for_hands[0] == pytest.approx([0, 30, 60, 90])
    assert not waited.waited_for_bench.any()


def test_clamps_hold_what_hands_have_left():
    # Two clamps, glue for 600 minutes on the clock, five minutes of hands for each board.
    steps = [[Step(0, hold=600.0)]] * 4
    done = play(steps, np.full((1, 4, 1), 5.0), np.zeros(4), benches=[Bench(2)], hands=1, hours=ALWAYS)
    assert done.finish[0] == pytest.approx([605, 610, 1210, 1215])


def test_glue_cures_over_night_and_nobody_works_then():
    hours = WorkingHours.of([(480, 960), (1920, 2400)])  # eight to four, on two days
    steps = [[Step(0, hold=300.0), Step(1)]]
    done = play(steps, np.array([[[60.0, 30.0]]]), np.array([900.0]), benches=[Bench(1)] * 2, hands=1, hours=hours)
    assert done.finish[0] == pytest.approx([1920 + 30])  # glued by 16:00, cured at 21:00, gone on with at 8:00


def test_a_clamp_is_free_while_the_board_still_cures():
    steps = [[Step(0, hold=60.0, cure=600.0), Step(1)]] * 2
    minutes = np.full((1, 2, 2), 5.0)
    done = play(steps, minutes, np.zeros(2), benches=[Bench(1), Bench(1)], hands=1, hours=ALWAYS)
    # The second goes into the clamp at 65; each lies for ten hours more before it is gone on with.
    assert done.finish[0] == pytest.approx([670, 735])


def test_boards_of_one_setup_go_through_together():
    steps = [[Step(0, setup=setup)] for setup in (1, 2, 1, 2)]
    minutes = np.full((1, 4, 1), 10.0)
    done = play(steps, minutes, np.zeros(4), benches=[Bench(1, change=25.0)], hands=1, hours=ALWAYS, standing=[2])
    assert done.finish[0] == pytest.approx([55, 10, 65, 20])


def test_changes_take_as_long_as_the_table_says_and_ranks_say_who_is_first():
    steps = [[Step(0, setup=setup)] for setup in (0, 1, 2)]
    minutes = np.full((1, 3, 1), 10.0)
    change = np.array([[0, 5, 9], [3, 0, 7], [4, 6, 0], [20, 30, 40]], float)  # the last row: nothing known stands
    ranks = np.array([[2.0], [0.0], [1.0]])
    done = play(
        steps, minutes, np.zeros(3), benches=[Bench(1, change)], hands=1, hours=ALWAYS, standing=[-1], ranks=ranks
    )
    # The second first (30 and 10), then the third (7 and 10), then the first (4 and 10).
    assert done.finish[0] == pytest.approx([71, 40, 57])


def test_a_board_that_rests_is_not_begun():
    done = played_once([[10], [10]], ready=[5000, 0])
    assert done.finish[0] == pytest.approx([5010, 10])


def test_hours_that_run_out_give_no_date():
    done = played_once([[100]], hours=WorkingHours.of([(0, 60)]))
    assert np.isinf(done.finish).all()


def test_runs_do_not_touch_one_another():
    random = np.random.default_rng(3)
    minutes = random.uniform(1, 50, (20, 8, 3))
    steps = [[Step(0), Step(1, setup=board % 2), Step(2, hold=90)] for board in range(8)]
    benches = [Bench(1), Bench(1, change=15), Bench(3)]
    hours = WorkingHours.of([(day * 1440 + 480, day * 1440 + 960) for day in range(40)])
    ready = np.arange(8) * 60.0
    together = play(steps, minutes, ready, benches=benches, hands=2, hours=hours)
    for run in range(20):
        alone = play(steps, minutes[run : run + 1], ready, benches=benches, hands=2, hours=hours)
        assert (together.finish[run] == alone.finish[0]).all()


@given(st.integers(0, 10**6), st.integers(1, 3))
def test_nothing_is_done_at_two_places_at_once(seed, hands):
    random = np.random.default_rng(seed)
    minutes = random.integers(1, 40, (1, 6, 2)).astype(float)
    done = played_once(minutes[0], hands=hands).finish[0]
    assert done.max() >= minutes.sum() / hands - 1e-9
    assert done.max() >= minutes[0].sum(axis=0).max() - 1e-9
    assert (done >= minutes[0].sum(axis=1) - 1e-9).all()


def test_durations_are_the_shops_own_once_there_are_ten():
    random = np.random.default_rng(1)
    seen = [4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 40.0]
    assert set(draw_minutes(seen, 1.0, (500,), random)) == set(seen)
    drawn = draw_minutes(seen[:9], 20.0, (4000,), random)
    assert drawn.min() >= 15 and drawn.max() <= 30
    assert drawn.mean() == pytest.approx(20 * (0.75 + 1 + 1.5) / 3, abs=0.2)


def test_the_same_seed_gives_the_same_dates():
    one, other = (draw_minutes([], 10.0, (3, 4), np.random.default_rng(9)) for _ in range(2))
    assert (one == other).all()


@pytest.mark.parametrize(("hands", "places"), [(0, 1), (1, 0)])
def test_somebody_has_to_work_somewhere(hands, places):
    with pytest.raises(GeometryError, match="Somebody has to work"):
        played_once([[1]], hands=hands, places=[places])


# Hours


@pytest.mark.parametrize("shifts", [[], [(10, 10)], [(10, 5)], [(0, 20), (10, 30)]])
def test_hours_follow_one_another(shifts):
    with pytest.raises(GeometryError, match="follow one another"):
        WorkingHours.of(shifts)


def test_the_evening_is_not_the_next_morning():
    hours = WorkingHours.of([(480, 720), (780, 1020), (1920, 2160)])
    assert hours.to_clock([0, 240, 241, 480, 481]) == pytest.approx([480, 720, 781, 1020, 1921])
    assert hours.to_work([0, 480, 600, 750, 1020, 1900, 1920, 9999]) == pytest.approx(
        [0, 0, 120, 240, 480, 480, 480, 720]
    )


@given(st.lists(st.floats(0.5, 600), min_size=2, max_size=12), st.floats(0, 1))
def test_there_and_back(lengths, part):
    bounds = np.cumsum(lengths[: len(lengths) // 2 * 2])
    hours = WorkingHours.of(list(zip(bounds[::2], bounds[1::2], strict=True)))
    work = part * hours.worked[-1]
    assert hours.to_work(hours.to_clock(work)) == pytest.approx(work, abs=1e-6)
