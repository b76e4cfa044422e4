"""When builds will be done: by the shop's queue, hours, wood and log."""

from datetime import date, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.forecast.jobs import DONE, NO_WOOD
from boards.forecast.outlook import forecast_builds
from boards.models import LogEntry
from shop.models import DayOff, Shop, Week
from shop.stages import STAGES
from tests.factories import good_readings, make_blank, make_build, make_hand, make_pattern

pytestmark = pytest.mark.django_db

RUNS = 60


def monday_morning() -> datetime:
    today = timezone.localdate()
    return timezone.make_aware(datetime.combine(today + timedelta(days=7 - today.weekday()), datetime.min.time()))


def outlook_of(build, **more):
    return forecast_builds(Shop.current(), **{"now": monday_morning(), "runs": RUNS, **more}).of(build)


@pytest.fixture
def quick_week():
    """Minutes of nothing much, so that only what a test is about takes time."""
    return Week.objects.create(pk=1, cure_hours=0, **{f"{stage}_minutes": 5 for stage in STAGES})


@pytest.fixture
def ready():
    build = make_build(due_on=timezone.localdate() + timedelta(days=30))
    return build, make_blank(build)


def test_it_works(ready):
    build, _ = ready
    outlook = outlook_of(build)
    assert monday_morning().date() <= outlook.by_half <= outlook.by_most
    assert outlook.in_time == 1.0
    assert outlook.late_by == 0
    assert outlook.held_up


def test_the_same_day_gives_the_same_dates(ready):
    build, _ = ready
    now = monday_morning()
    assert outlook_of(build, now=now) == outlook_of(build, now=now)


def test_one_board_after_another(quick_week):
    # Settings of five minutes are drawn between 3.75 and 7.5: all five stages and their changes fit one morning.
    build = make_build()
    make_blank(build)
    assert outlook_of(build).by_most == monday_morning().date()
    quick_week.cure_hours = 30  # on the clock, after Monday morning
    quick_week.save()
    assert outlook_of(build).by_half == monday_morning().date() + timedelta(days=1)


def test_days_off_move_the_date(ready, quick_week):
    build, _ = ready
    first = monday_morning().date()
    DayOff.objects.create(first=first, last=first + timedelta(days=3))
    assert outlook_of(build).by_most == first + timedelta(days=4)


def test_what_rests_is_not_begun(quick_week):
    build = make_build()
    blank = make_blank(build, received_on=timezone.localdate())
    outlook = outlook_of(build)
    assert outlook.by_half >= timezone.localdate() + timedelta(days=Shop.current().rest_days)
    assert f"{blank.number} rests for" in outlook.held_up


def test_a_date_that_cannot_be_kept_says_so(ready, quick_week):
    build, blank = ready
    build.due_on = monday_morning().date() - timedelta(days=2)
    build.save()
    outlook = outlook_of(build)
    assert outlook.in_time == 0.0
    assert outlook.late_by == 2


def test_why_there_is_no_date(ready):
    build, blank = ready
    hand = make_hand()
    blank.hold(hand, blank.version, "a shake")
    assert outlook_of(build).no_date == f"{blank.number} is held and waits for a decision."
    without = make_build("B902", heel_width=250, nut_width=240)
    assert outlook_of(without).no_date == NO_WOOD
    done = make_build("B903")
    make_blank(done, done=5)
    assert outlook_of(done).no_date == DONE


def test_a_build_without_a_blank_reckons_with_the_one_that_would_be_proposed(quick_week):
    build = make_build()
    blank = make_blank()
    outlook = outlook_of(build)
    assert outlook.by_most is not None
    assert outlook.boards[0].proposed
    blank.refresh_from_db()
    assert blank.build is None, "only in thought"


def test_two_boards_of_one_build_are_both_waited_for(quick_week):
    build = make_build()
    make_blank(build, done=4)
    make_blank(build, received_on=timezone.localdate())
    assert outlook_of(build).by_half >= timezone.localdate() + timedelta(days=Shop.current().rest_days)


def test_another_build_after_the_others_delays_none_that_is_due_before_it():
    today = timezone.localdate()
    builds = [make_build(f"B90{step}", due_on=today + timedelta(days=20 + step)) for step in range(4)]
    for build in builds:
        make_blank(build)
    pattern = make_pattern()
    now = monday_morning()
    alone = forecast_builds(Shop.current(), now=now, runs=RUNS)
    late = forecast_builds(Shop.current(), now=now, runs=RUNS, extra=[(pattern, 2, today + timedelta(days=90))])
    first = forecast_builds(Shop.current(), now=now, runs=RUNS, extra=[(pattern, 3, today)])
    assert any(outlook.build.number == "" and outlook.by_most for outlook in late.outlooks)
    for build in builds:
        assert first.of(build).by_most >= alone.of(build).by_most
    assert first.of(builds[-1]).by_most > alone.of(builds[-1]).by_most


def test_more_hands_are_never_later(quick_week):
    for step in range(6):
        make_blank(make_build(f"B90{step}", due_on=timezone.localdate() + timedelta(days=9)))
    Week.objects.update(slotting_minutes=300, tapering_minutes=300)
    one = forecast_builds(Shop.current(), now=monday_morning(), runs=RUNS)
    Week.objects.update(hands=3)
    three = forecast_builds(Shop.current(), now=monday_morning(), runs=RUNS)
    assert max(o.by_most for o in three.outlooks) < max(o.by_most for o in one.outlooks)


def test_the_log_counts_once_ten_boards_have_gone_through(quick_week):
    at = timezone.make_aware(datetime(2026, 3, 2, 8))
    pattern = make_pattern()
    for step in range(11):
        hand = make_hand(at=at + timedelta(minutes=50 * step))
        blank = make_blank(pattern)
        blank.finish(hand, blank.version, "thicknessing", good_readings(blank))
    assert LogEntry.objects.filter(stage="thicknessing").count() == 11
    found = forecast_builds(Shop.current(), now=monday_morning(), runs=RUNS)
    assert found.seen["thicknessing"] == 10
    assert found.learned == ["Thicknessing"]


def test_boards_of_patterns_take_their_turn_too(quick_week):
    Week.objects.update(slotting_minutes=240)
    build = make_build(due_on=date(2099, 1, 1))
    make_blank(build)
    alone = outlook_of(build).by_half
    for _ in range(6):
        make_blank(make_pattern(f"Pattern {_}"))
    assert outlook_of(build).by_half >= alone


def test_it_asks_the_database_as_often_for_many_as_for_few():
    counts = []
    for start, end in ((0, 3), (3, 20)):
        for step in range(start, end):
            make_blank(make_build(f"B{500 + step}"), done=step % 5)
            make_build(f"B{700 + step}")
            make_blank()
        with CaptureQueriesContext(
            connection,
        ) as asked:
            forecast_builds(Shop.current(), now=monday_morning(), runs=5)
        counts.append(len(asked))
    assert counts[0] == counts[1]
