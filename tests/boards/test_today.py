"""The day sheet."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.models import KeptForecast
from boards.models.moisture import Way, note_readings
from boards.settled_since import settled_since
from boards.today import hours
from shop.models import Shop, User, Week
from shop.models.air import AirReading
from tests.factories import days_ago, make_blank, make_blanks, make_build, make_hand

pytestmark = pytest.mark.django_db


def words(client: Client) -> str:
    import re

    return re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", client.get("/").content.decode())).replace(" .", ".")


def forecast(build: object, most: int, made: int = 0) -> None:
    """Keep a forecast that most runs come out so many days from today."""
    KeptForecast.objects.create(build=build, made_on=days_ago(made), dates={"85": days_ago(-most).isoformat()})


def test_what_is_late_and_what_is_to_be_delivered(bench: Client, shop: Shop) -> None:
    late = make_build("B961", due_on=days_ago(1))
    today = make_build("B962", due_on=days_ago(0))
    soon = make_build("B963", due_on=days_ago(-shop.horizon_days))
    make_build("B964", due_on=days_ago(-shop.horizon_days - 1))
    make_build("B965")
    make_build("B966", due_on=days_ago(9), closed_on=days_ago(2))
    answer = bench.get("/")
    assert [promise.build for promise in answer.context["late"]] == [late]
    assert [promise.build for promise in answer.context["soon"]] == [today, soon]
    assert "1 late." in words(bench)


def test_how_late_the_forecast_says(bench: Client) -> None:
    late, will_be = make_build("B1", due_on=days_ago(2)), make_build("B2", due_on=days_ago(-3))
    undated = make_build("B3")
    make_build("B4", due_on=days_ago(-5))
    forecast(late, 4)
    forecast(will_be, 9)
    forecast(undated, 9)
    page = words(bench)
    assert "2 late." in page
    assert "B1 2 days Lark, six strings was due on" in page
    assert ", 6 days late" in page  # 4 days to come, 2 gone by
    assert "B2 in 3 days" in page and ", 6 days late" in page
    assert [promise.build.number for promise in bench.get("/").context["soon"]] == ["B4"]


def test_an_old_forecast_is_not_believed(bench: Client) -> None:
    forecast(make_build("B1", due_on=days_ago(-3)), 9, made=8)
    assert "Nothing is late." in words(bench)


def test_a_held_build_is_late_only_once_its_day_is_over(bench: Client, maker: User) -> None:
    build = make_build("B1", due_on=days_ago(-3))
    forecast(build, 9)
    build.hold(make_hand(), 0, "No deposit yet")
    page = words(bench)
    assert "Nothing is late." in page
    assert "1 to decide." in page
    assert "The whole build is held: No deposit yet" in page


def test_each_bench_says_boards_minutes_and_what_to_fit_first(bench: Client, maker: User, shop: Shop) -> None:
    build = make_build()
    for _ in range(3):
        make_blank(build, done=1)
    (row,) = [row for row in bench.get("/").context["benches"] if row.stage.key == "slotting"]
    setting = shop.scale_minutes + shop.blade_minutes + shop.slot_depth_minutes
    assert (row.boards, row.minutes) == (3, 3 * Week.current().slotting_minutes + setting)
    page = words(bench)
    assert f"Slotting 3 {row.takes} Scale 648.0 mm" in page
    assert f"3 boards at 1 bench: {row.takes}." in page


@pytest.mark.parametrize(
    ("minutes", "said"),
    [
        (0, "0 min"),
        (4.4, "4 min"),
        (59.4, "59 min"),
        (60, "1 h"),
        (61, "1 h"),
        (63, "1 h 05"),
        (119, "2 h"),
        (367, "6 h 05"),
    ],
)
def test_a_stretch_of_work(minutes: float, said: str) -> None:
    assert hours(minutes) == said


def test_what_came_in_today(bench: Client, maker: User) -> None:
    make_blanks(3, received_on=days_ago(0), supplier="Pellow Yard")
    make_blanks(2, received_on=days_ago(1))
    assert "3 Pear, steamed, from Pellow Yard: F0001 to F0003" in words(bench)


def read(blank: object, percent: str, ago: int, shop: Shop) -> None:
    readings = [(blank, {"way": Way.METER, "percent": Decimal(percent)})]
    note_readings(make_hand(), shop, readings, at=timezone.now() - timedelta(days=ago))


def test_what_has_settled_since_a_week_ago(bench: Client, maker: User, shop: Shop) -> None:
    at = f"{shop.air.emc:.1f}"
    for name, days in (("just now", (9, 1)), ("long since", (30, 20)), ("again", (30, 20, 1)), ("once", (1,))):
        (blank,) = make_blanks(remarks=name)
        for ago in days:
            read(blank, at, ago, shop)
    (damp,) = make_blanks(remarks="damp")
    for ago in (9, 1):
        read(damp, f"{shop.air.emc + 4:.1f}", ago, shop)
    settled, _ = settled_since(shop, today=days_ago(0))
    assert [blank.remarks for blank in settled] == ["just now"]
    assert "By now, and not a week ago: F0001 Pear, steamed" in words(bench)


def test_what_nobody_read_has_rested(maker: User, shop: Shop) -> None:
    for ago in (shop.rest_days - 1, shop.rest_days, shop.rest_days + 6, shop.rest_days + 7):
        make_blanks(received_on=days_ago(ago))
    assert settled_since(shop, today=days_ago(0)) == ([], 2)


@pytest.mark.parametrize(
    ("humidity", "said"), [(46, "Inside the band"), (35, "Too dry: 42 to 50 % is wanted"), (61, "Too damp")]
)
def test_the_air(bench: Client, maker: User, humidity: float, said: str) -> None:
    now = timezone.now()
    AirReading(at=now, written_at=now, temperature=21, humidity=humidity, by=maker).save()
    page = words(bench)
    assert f"{humidity} % 21 °C {said}" in page
    assert ("The air is too" in page) == (humidity != 46)


def test_the_air_of_last_week_tells_nothing_of_today(bench: Client, maker: User) -> None:
    at = timezone.now() - timedelta(days=6)
    AirReading(at=at, written_at=at, temperature=21, humidity=30, by=maker).save()
    page = words(bench)
    assert "Not read since" in page
    assert "The air is too" not in page


def test_an_empty_shop_says_where_to_begin(bench: Client) -> None:
    page = words(bench)
    for said in ("Log the first blanks", "write down a build", "Nothing is late.", "No board waits at a bench."):
        assert said in page
    assert "nobody has read it yet" in page.lower()


def test_it_costs_the_same_with_much_on_it(bench: Client, maker: User, shop: Shop) -> None:
    def fill(tag: str, how_many: int) -> int:
        for place in range(how_many):
            build = make_build(f"{tag}{place}", due_on=days_ago(place % 3 - 1))
            forecast(build, 4)
            make_blank(build, done=1)
            held = make_blank(build, done=2)
            held.hold(make_hand(), held.version, "A shake")
            (blank,) = make_blanks(received_on=days_ago(0))
            for ago in (9, 1):
                read(blank, f"{shop.air.emc:.1f}", ago, shop)
            other = make_build(f"H{tag}{place}")
            other.hold(make_hand(), 0, "Waits")
        with CaptureQueriesContext(connection) as captured:
            assert bench.get("/").status_code == 200
        return len(captured)

    bench.get("/")
    assert fill("A", 2) == fill("B", 6)
