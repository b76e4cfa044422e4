"""The shop's hours: its week, its days off, and the minutes of work that they come to."""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.models import DayOff, Week
from tests.factories import tap

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(owners_bench: Client) -> Client:
    """The kit is the owner's to change."""
    return owners_bench


MONDAY = datetime(2026, 11, 23, 0, 0)


def payload(**changes):
    typed = {
        "weekdays": ["0", "1", "2", "3"],
        "opens_at": "7:30",
        "break_from": "12:00",
        "break_until": "12:30",
        "closes_at": "16:00",
        "hands": "2",
        "thicknessing_minutes": "10",
        "slotting_minutes": "30",
        "radiusing_minutes": "20",
        "tapering_minutes": "10",
        "gluing_minutes": "15",
        "cure_hours": "12",
    }
    return tap(seen=Week.current().version, **typed | changes)


def test_it_works(bench):
    assert bench.get(reverse("shop:hours")).status_code == 200
    assert bench.post(reverse("shop:hours"), payload()).status_code == 302
    week = Week.current()
    assert (week.weekdays, week.opens_at, week.hands, week.minutes("slotting")) == ([0, 1, 2, 3], time(7, 30), 2, 30)


@pytest.mark.parametrize("changes", [
    {"weekdays": []},
    {"weekdays": ["7"]},
    {"opens_at": "after breakfast"},
    {"closes_at": "7:00"},
    {"break_from": ""},
    {"break_from": "6:00"},
    {"break_until": "11:00"},
    {"hands": "0"},
    {"hands": "1e9"},
    {"slotting_minutes": "-3"},
    {"cure_hours": "9999"},
])  # fmt: skip
def test_what_cannot_be_is_said_beside_its_box(bench, changes):
    answer = bench.post(reverse("shop:hours"), payload(**changes))
    assert answer.status_code == 422
    assert "wrong" in answer.content.decode()
    assert not Week.objects.exists()


def test_whoever_is_later_is_told(bench, other_bench):
    first, second = payload(), payload(hands="3")
    assert bench.post(reverse("shop:hours"), first).status_code == 302
    assert other_bench.post(reverse("shop:hours"), second).status_code == 409
    assert Week.current().hands == 2


def test_days_off_come_and_go(bench):
    add = reverse("shop:add-days-off")
    assert bench.post(add, tap(first="2027-08-02", last="2027-08-13", why="Summer")).status_code == 302
    assert "Summer" in bench.get(reverse("shop:hours")).content.decode()
    for wrong in (
        {"first": "2027-08-13", "last": "2027-08-02"},
        {"first": "x", "last": ""},
        {"first": "2027-01-01", "last": "2029-01-01"},
    ):
        assert bench.post(add, tap(why="", **wrong)).status_code == 422
    strike = reverse("shop:drop-days-off", args=[DayOff.objects.get().pk])
    assert bench.post(strike, tap()).status_code == 302
    assert bench.post(strike, tap()).status_code == 409
    assert not DayOff.objects.exists()


def test_a_week_in_minutes():
    # Five days of eight hours, less the hour at noon: 40 hours from a Monday to the next.
    since = timezone.make_aware(MONDAY)
    hours = Week().hours(since, 6)
    assert hours.worked[-1] == 40 * 60
    assert hours.to_work(12.5 * 60) == 4 * 60
    assert hours.to_clock(4 * 60 + 1) == 13 * 60 + 1


def test_days_off_are_not_worked():
    DayOff.objects.create(first=date(2026, 11, 24), last=date(2026, 11, 25))
    DayOff.objects.create(first=date(2026, 11, 1), last=date(2026, 11, 23))
    assert Week().hours(timezone.make_aware(MONDAY), 6).worked[-1] == 16 * 60


def test_a_day_that_has_begun_counts_from_now():
    since = timezone.make_aware(MONDAY.replace(hour=15))
    assert Week().hours(since, 0).worked[-1] == 2 * 60


def test_the_clock_is_put_back_and_the_day_is_as_long_as_ever(settings):
    # Berlin puts its clocks back on 25 October 2026, a Sunday (Directive 2000/84/EC: the last Sunday in October).
    with timezone.override(ZoneInfo("Europe/Berlin")):
        since = timezone.make_aware(datetime(2026, 10, 24, 8))
        hours = Week(weekdays=[0, 6]).hours(since, 2)
        assert hours.worked[-1] == 16 * 60
        assert hours.starts[0] == 25 * 60  # Sunday's eight o'clock comes an hour later
