"""The page of dates, and what is kept of it."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from boards.forecast.kept import came_true, done_on, keep_forecasts
from boards.models import KeptForecast
from shop.models import Shop
from tests.factories import days_ago, make_blank, make_build, make_hand, make_pattern

pytestmark = pytest.mark.django_db

DATES = "/dates/"


def test_it_works(bench):
    build = make_build(due_on=days_ago(-40))
    make_blank(build)
    stuck = make_build("B902", heel_width=250, nut_width=240)
    page = bench.get(DATES).content.decode()
    assert reverse("shop:build", args=[build.number]) in page
    assert "in time" in page
    assert "it waits for wood" in page
    assert stuck.title in page


def test_an_empty_shop_has_a_page(bench):
    assert "No open build" in bench.get(DATES).content.decode()


def test_what_another_build_would_do(bench):
    for step in range(3):
        make_blank(make_build(f"B90{step}", due_on=days_ago(-9 - step)))
    pattern = make_pattern(frets=24)
    asked = {"pattern": pattern.pk, "boards": 12, "due": days_ago(-2).isoformat()}
    page = bench.get(DATES, asked).content.decode()
    assert "With Lark as well" in page
    assert "Later because of it" in page
    # Whether one more at the end of the queue delays the others depends on the time of day; it is said either way.
    alone = bench.get(DATES, {**asked, "boards": 1, "due": ""}).content.decode()
    assert ("No other build would be later" in alone) != ("Later because of it" in alone)


@pytest.mark.parametrize("asked", [
    {"pattern": ""}, {"pattern": "999"}, {"boards": "0"}, {"boards": "13"}, {"boards": "many"}, {"due": "2001-01-01"},
    {"due": "soon"}, {"pattern": "1\x00"}, {"boards": "9" * 400},
])  # fmt: skip
def test_what_cannot_be_asked_is_said_beside_its_box(bench, asked):
    pattern = make_pattern()
    answer = bench.get(DATES, {"pattern": pattern.pk, "boards": 1, "due": "", **asked})
    assert answer.status_code == 422
    assert "wrong" in answer.content.decode()


def test_a_forecast_is_kept_once_a_day():
    build = make_build()
    make_blank(build)
    now = timezone.now()
    assert keep_forecasts(Shop.current(), now=now) == 1
    assert keep_forecasts(Shop.current(), now=now) == 0
    kept = KeptForecast.objects.get()
    assert sorted(kept.dates, key=int) == ["10", "25", "50", "75", "85", "95"]
    assert list(kept.dates.values()) == sorted(kept.dates.values())


def test_a_build_is_done_with_its_last_board():
    build, hand = make_build(), make_hand()
    make_blank(build, done=5)
    assert done_on([build]) == {build.pk: timezone.localdate()}
    second = make_blank(build, done=4)
    assert done_on([build]) == {}
    second.scrap(hand, second.version, "split")
    assert done_on([build]) == {build.pk: timezone.localdate()}


def test_dates_are_held_against_what_came_true(bench):
    today = timezone.localdate()
    dates = {"10": -5, "25": -3, "50": 0, "75": 1, "85": 2, "95": 9}  # days from the day on which they are done
    for step in range(10):
        build = make_build(f"B{600 + step}")
        make_blank(build, done=5)
        shift = step - 5  # of five builds, the dates were too late; of five, too early
        KeptForecast.objects.create(
            build=build,
            made_on=today - timedelta(days=20),
            dates={share: (today + timedelta(days=days - shift)).isoformat() for share, days in dates.items()},
        )
        open_one = make_build(f"B{700 + step}")
        KeptForecast.objects.create(build=open_one, made_on=today, dates={"50": today.isoformat()})
    # Done by the day that was forecast: days - shift >= 0, for shifts from -5 to 4.
    assert [(each.chance, each.dates, each.true) for each in came_true()] == [
        (10, 10, 1), (25, 10, 3), (50, 10, 6), (75, 10, 7), (85, 10, 8), (95, 10, 10),
    ]  # fmt: skip
    assert "60 of 100" in bench.get(DATES).content.decode()


def test_a_week_counts_once():
    build = make_build()
    make_blank(build, done=5)
    monday = timezone.localdate() - timedelta(days=timezone.localdate().weekday() + 14)
    for day in range(5):
        KeptForecast.objects.create(build=build, made_on=monday + timedelta(days=day), dates={"50": "2099-01-01"})
    for step in range(9):
        other = make_build(f"B{600 + step}")
        make_blank(other, done=5)
        KeptForecast.objects.create(build=other, made_on=monday, dates={"50": "2099-01-01"})
    assert [each.dates for each in came_true()] == [10]
