"""When a blank is settled. The rule itself is common practice, no source: within 1 % of what the shop's air makes, and
the last two readings at least 7 days apart within 0.5 %."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.drying import InTheAir
from boards.figures import worked, worked_many
from boards.models import Blank, Moisture, MoistureReading
from boards.models.moisture import Way, drift_of, note_readings, points_of, take_back
from boards.settled import Settled, how_settled, in_state
from geometry.moisture import equilibrium
from shop.models import Refused, Shop, User
from shop.models.air import AirReading
from tests.factories import days_ago, good_readings, make_blank, make_blanks, make_build, make_hand, make_species

pytestmark = pytest.mark.django_db

TODAY = timezone.localdate


def read(blank: Blank, ago: int, percent: float | None = None, grams: float | None = None, way: str = "") -> None:
    way = way or (Way.METER if percent is not None else Way.WEIGHT)
    at = timezone.make_aware(datetime.combine(days_ago(ago), time(9)))
    typed = {"percent": percent, "grams": grams}
    typed = {name: Decimal(str(value)) for name, value in typed.items() if value is not None}
    note_readings(make_hand(), Shop.current(), [(blank, {"way": way, **typed})], at=at)


def state_of(blank: Blank, today: date | None = None) -> Settled:
    return how_settled([blank], Shop.current(), today=today or TODAY())[blank.pk].state


def make_air(temperature: float = 20, humidity: float = 45, ago: int = 1) -> None:
    at = timezone.now() - timedelta(days=ago)
    AirReading(at=at, temperature=temperature, humidity=humidity, by=User.objects.first(), written_at=at).save()


@pytest.fixture
def fresh(maker: User, shop: Shop) -> Blank:
    """Came in twelve days ago; the air makes 8.5 %, which the handbook's equation has as 8.485178."""
    make_air(20, 45)
    return make_blank(received_on=days_ago(12))


def test_the_air_that_counts(maker: User, shop: Shop) -> None:
    assert not shop.air.is_read
    assert shop.air.emc == pytest.approx(float(equilibrium(20, 46)))
    make_air(20, 45)
    make_air(24, 60, ago=shop.air_days + 2)  # too long ago
    assert Shop.current().air.emc == pytest.approx(8.485178, abs=1e-6)
    make_air(20, 47, ago=3)
    assert Shop.current().air.humidity == pytest.approx(46)


@pytest.mark.parametrize(
    ("readings", "state"),
    [
        ([], Settled.UNKNOWN),
        ([(2, 11.2)], Settled.NOT),
        ([(2, 9.6)], Settled.NOT),
        ([(2, 9.4)], Settled.NEARLY),
        ([(2, 7.5)], Settled.NEARLY),
        ([(2, 7.4)], Settled.NOT),
        ([(9, 9.4), (2, 8.9)], Settled.SETTLED),
        ([(9, 9.5), (2, 8.9)], Settled.NEARLY),
        ([(8, 9.0), (2, 8.9)], Settled.NEARLY),
        ([(9, 9.2), (5, 9.1), (2, 8.9)], Settled.SETTLED),
        ([(9, 9.8), (2, 9.6)], Settled.NOT),
    ],
)
def test_the_rule(fresh: Blank, readings: list[tuple[int, float]], state: Settled) -> None:
    for ago, percent in readings:
        read(fresh, ago, percent)
    assert state_of(fresh) == state


def test_what_it_came_in_with_is_its_first_reading(fresh: Blank) -> None:
    blank = make_blank(received_on=days_ago(12), moisture=Decimal("9.0"))
    assert state_of(blank) == Settled.NEARLY
    read(blank, 2, 8.8)
    assert state_of(blank) == Settled.SETTLED
    assert [point.percent for point in points_of([blank])[blank.pk]] == [9.0, 8.8]


def test_days_in_the_rack_count_where_nothing_was_read(fresh: Blank, shop: Shop) -> None:
    known = how_settled([fresh], shop, today=TODAY())[fresh.pk]
    assert (known.state, known.ready, known.words) == (
        *(Settled.UNKNOWN, False),
        "Not known: never read; in the shop for 12 days.",
    )
    later = how_settled([fresh], shop, today=TODAY() + timedelta(days=16))[fresh.pk]
    assert later.ready
    assert later.words == "Not known: never read; rested 28 days."


def test_a_reading_grows_old(fresh: Blank, shop: Shop) -> None:
    read(fresh, 0, 11.2)
    assert state_of(fresh, TODAY() + timedelta(days=shop.rest_days)) == Settled.NOT
    assert state_of(fresh, TODAY() + timedelta(days=shop.rest_days + 1)) == Settled.UNKNOWN
    settled = make_blank()
    read(settled, 20, 8.6)
    read(settled, 10, 8.5)
    assert state_of(settled, TODAY() + timedelta(days=200)) == Settled.SETTLED


def test_a_composite_needs_none(fresh: Blank, shop: Shop) -> None:
    blank = make_blank(species=make_species("Pressed paper", composite=True), received_on=days_ago(0))
    known = how_settled([blank], shop, today=TODAY())[blank.pk]
    assert (known.state, known.ready, known.words) == (Settled.NO_NEED, True, "Needs no rest.")


def test_a_weight_tells_moisture_once_a_meter_stood_beside_it(fresh: Blank) -> None:
    read(fresh, 11, 10.0, 440)  # holds 440 / 1.1 = 400 g of dry wood
    read(fresh, 2, grams=434)
    assert points_of([fresh])[fresh.pk][-1].percent == pytest.approx(8.5)
    assert Moisture.objects.get(blank=fresh).percent == Decimal("8.50")
    read(fresh, 1, grams=432)
    assert points_of([fresh])[fresh.pk][-1].percent == pytest.approx(8.0)


def test_an_oven_dry_weight_tells_it_too(fresh: Blank) -> None:
    read(fresh, 11, grams=440)
    read(fresh, 2, grams=436)
    assert points_of([fresh])[fresh.pk][-1].percent is None
    read(fresh, 1, grams=400, way=Way.DRY)
    assert [point.percent for point in points_of([fresh])[fresh.pk]] == pytest.approx([10.0, 9.0])


def test_by_weight_alone_only_steadiness_is_known(fresh: Blank, shop: Shop) -> None:
    read(fresh, 11, grams=440)
    assert state_of(fresh) == Settled.UNKNOWN
    read(fresh, 2, grams=437)  # 0.68 % of its weight, 0.75 % of moisture
    assert state_of(fresh) == Settled.NOT
    read(fresh, 2, grams=439)
    known = how_settled([fresh], shop, today=TODAY())[fresh.pk]
    assert known.state == Settled.SETTLED
    assert known.words.startswith("Settled by its weight, weighed on")


def test_weights_before_and_after_a_cut_say_nothing_of_each_other(fresh: Blank) -> None:
    blank = make_blank(make_build(), received_on=days_ago(40))
    read(blank, 20, 9.0, 440)
    blank.finish(make_hand(), blank.version, blank.next_stage, good_readings(blank))
    read(blank, 2, grams=390)
    last = points_of([blank])[blank.pk][-1]
    assert (last.percent, last.cuts) == (None, 1)
    assert drift_of(points_of([blank])[blank.pk], 7) is None


def test_a_reading_is_taken_back_not_deleted(fresh: Blank) -> None:
    read(fresh, 2, 18.4)
    slip = MoistureReading.objects.get(blank=fresh)
    take_back(make_hand(), Shop.current(), slip)
    assert state_of(fresh) == Settled.UNKNOWN
    assert MoistureReading.objects.filter(blank=fresh).count() == 2
    assert points_of([fresh])[fresh.pk] == []
    with pytest.raises(Refused, match="already"):
        take_back(make_hand(), Shop.current(), slip)
    with pytest.raises(Refused):
        take_back(make_hand(), Shop.current(), MoistureReading.objects.get(way=Way.BACK))
    for broken in (lambda: slip.save(), lambda: slip.delete()):
        with pytest.raises(TypeError):
            broken()


def test_other_days_between_readings_are_summed_up_anew(fresh: Blank) -> None:
    read(fresh, 11, 9.9)
    read(fresh, 6, 8.9)
    read(fresh, 2, 8.7)
    assert state_of(fresh) == Settled.NEARLY
    shop = Shop.current()
    shop.settled_days = 4
    shop.save()
    assert state_of(fresh) == Settled.SETTLED
    shop.settled_within, shop.settled_steady = Decimal("0.1"), Decimal("0.1")
    shop.save()
    assert state_of(fresh) == Settled.NOT


def test_a_whole_rack_is_asked_as_one_blank_is(fresh: Blank, shop: Shop) -> None:
    blanks = make_blanks(9, received_on=days_ago(20))
    for k, blank in enumerate(blanks):
        read(blank, 15, 8 + 0.4 * k)
        if k % 2:
            read(blank, 2, 8 + 0.3 * k)
    everything = Blank.objects.all()
    known = how_settled(everything, shop, today=TODAY())
    assert {one.state for one in known.values()} == set(Settled) - {Settled.NO_NEED}
    for state in Settled:
        asked = set(in_state(everything, state, shop=shop, today=TODAY()).values_list("pk", flat=True))
        assert asked == {pk for pk, one in known.items() if one.state == state}
    with CaptureQueriesContext(connection) as few:
        how_settled(blanks[:1], Shop.current(), today=TODAY())
    with CaptureQueriesContext(connection) as many:
        how_settled(everything, Shop.current(), today=TODAY())
    assert len(few) == len(many)
    assert how_settled([], shop, today=TODAY()) == {}


def test_boards_are_worked_out_in_the_shops_air(fresh: Blank) -> None:
    rosewood = make_species("Rosewood of the test", c_radial=Decimal("0.00092"), c_tangential=Decimal("0.00201"))
    blank = make_blank(make_build(), species=rosewood, received_on=days_ago(20))
    assert worked(blank, Shop.current()).result.climate is None, "its moisture is not known"
    for ago, percent in ((16, 12.5), (11, 11.6), (6, 10.9), (1, 10.3)):
        read(blank, ago, percent)
    figures = worked(blank, Shop.current())
    assert figures.result.climate.emc == pytest.approx(8.485178, abs=1e-6)
    assert not figures.result.climate.ready
    # 57 mm of heel, from 30 to 60 % at 20 degrees
    low, high = equilibrium(20, [30, 60])
    assert figures.result.climate.season_change == pytest.approx(57 * 0.00092 * (high - low))
    (warning,) = [w for w in figures.result.warnings if w.code == "not-settled"]
    assert warning.message.startswith("Not settled: 10.3 % on ")
    assert "the shop's air makes 8.5 %. Expected about " in warning.message
    assert figures.too_early == warning.message
    found = InTheAir.of([blank], Shop.current(), today=TODAY()).expected[blank.pk]
    assert TODAY() <= found.earliest <= found.on <= found.latest


def test_nothing_is_said_of_a_board_on_its_neck(fresh: Blank) -> None:
    blank = make_blank(make_build(), done=5)
    read(blank, 1, 12.0)
    assert not [w for w in worked(blank, Shop.current()).result.warnings if w.code == "not-settled"]


def test_many_boards_cost_as_few_questions(fresh: Blank) -> None:
    build = make_build()
    for _ in range(2):
        read(make_blank(build, received_on=days_ago(10)), 1, 11)
    with CaptureQueriesContext(connection) as few:
        worked_many(Blank.objects.exclude(build=None).with_spec(), Shop.current())
    for _ in range(12):
        read(make_blank(build, received_on=days_ago(10)), 1, 11)
    with CaptureQueriesContext(connection) as many:
        worked_many(Blank.objects.exclude(build=None).with_spec(), Shop.current())
    assert len(many) == len(few)


def test_wet_wood_can_still_be_worked_out(fresh: Blank) -> None:
    blank = make_blank(make_build(), received_on=days_ago(3), moisture=Decimal("180"))
    assert not worked(blank, Shop.current()).trouble
