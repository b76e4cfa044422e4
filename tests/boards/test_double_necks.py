"""Instruments with several boards: some alike in one build, others unlike in builds that go together."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from boards.buying import buying_list
from boards.fits import waiting_builds
from boards.forecast.kept import done_on
from boards.forecast.outlook import forecast_builds
from boards.matching import match
from boards.matching_page import Pair, accept
from shop.models import Build, Shop, User
from tests.factories import days_ago, make_blank, make_blanks, make_build, make_hand

pytestmark = pytest.mark.django_db


def today() -> object:
    return timezone.localdate()


def test_it_waits_until_it_has_all_its_blanks(maker: User, shop: Shop) -> None:
    build = make_build(boards_wanted=2)
    make_build("B902")
    assert [(each.number, each.given) for each in waiting_builds()] == [("B901", 0), ("B902", 0)]
    make_blank(build)
    make_blank(Build.objects.get(number="B902"))
    assert [(each.number, each.given) for each in waiting_builds()] == [("B901", 1)]
    spoiled = make_blank(build)
    assert waiting_builds() == []
    spoiled.scrap(make_hand(), spoiled.version, "Split")
    assert [each.given for each in waiting_builds()] == [1]


def test_the_matching_gives_it_two_unlike_blanks_and_no_third(maker: User, shop: Shop) -> None:
    build = make_build(boards_wanted=2)
    first, second, third = make_blanks(3)
    found = match(shop, today=today())
    assert [proposal.build for proposal in found.proposals] == [build, build]
    assert len({proposal.blank for proposal in found.proposals}) == 2
    pairs = [Pair(blank.number, blank.version, build.number, build.version) for blank in (first, second, third)]
    done = accept(pairs=pairs, hand=make_hand())
    assert [pair.blank for pair in done.put] == [first.number, second.number]
    assert done.lost == [f"B901 has {first.number} and {second.number} by now."]


def test_one_blank_for_two_boards_leaves_one_without(bench: Client, maker: User, shop: Shop) -> None:
    make_build(boards_wanted=2)
    make_blanks(1)
    found = match(shop, today=today())
    assert (len(found.proposals), len(found.without)) == (1, 1)
    page = bench.get("/rack/matching/").content.decode()
    assert "1 build waits for a blank" in page
    assert page.count("one of 2 boards") == 2


def test_wood_for_both_is_bought(bench: Client, maker: User, shop: Shop) -> None:
    shop.spoiled_in_hundred = 0
    shop.save()
    build = make_build(boards_wanted=2)
    assert buying_list(shop, months=0).buy == 2
    make_blank(build)
    assert buying_list(shop, months=0).buy == 1
    assert "B901</a> (2 boards, has 1)" in bench.get("/rack/buying/?months=0").content.decode()


def test_what_is_held_waits_for_no_wood(maker: User, shop: Shop) -> None:
    build = make_build()
    make_blanks(1)
    build.hold(make_hand(), 0, "No deposit")
    assert waiting_builds() == []
    assert match(shop, today=today()).proposals == []
    assert buying_list(shop, months=0).buy == 0


def outlooks(shop: Shop) -> dict[str, object]:
    now = timezone.make_aware(datetime(2026, 3, 2, 9))  # a Monday
    return {each.build.number: each for each in forecast_builds(shop, now=now, runs=50).outlooks}


def test_it_is_done_when_all_its_boards_are(maker: User, shop: Shop) -> None:
    twin, single = make_build(boards_wanted=2), make_build("B902")
    make_blank(twin, done=4)
    make_blank(single, done=4)
    assert outlooks(shop)["B901"].no_date == "Only 1 of its 2 boards have wood: it waits for more."
    make_blank(twin)
    found = outlooks(shop)
    assert found["B901"].by_most > found["B902"].by_most
    assert len(found["B901"].boards) == 2


def test_unlike_boards_of_one_instrument_have_one_date(maker: User, shop: Shop) -> None:
    first = make_build("B1")
    other = make_build("B2", goes_with=first, radius_nut=Decimal(254), radius_heel=Decimal(254))
    make_blank(first, done=4)
    assert outlooks(shop)["B1"].no_date == "B2 of the same instrument has no date."
    make_blank(other)
    found = outlooks(shop)
    assert found["B1"].dates == found["B2"].dates
    assert [len(found[number].boards) for number in ("B1", "B2")] == [1, 1]


def test_a_held_or_delivered_build_has_no_date_and_keeps_nobody_waiting(maker: User, shop: Shop) -> None:
    held, gone, going = make_build("B1"), make_build("B2"), make_build("B3")
    for build in (held, gone, going):
        make_blank(build, done=2)
    alone = outlooks(shop)["B3"].dates
    held.hold(make_hand(), 0, "No deposit")
    gone.deliver(make_hand(), 0, days_ago(0))
    found = outlooks(shop)
    assert found["B1"].no_date == "It is held and waits for a decision."
    assert "B2" not in found
    assert found["B3"].by_most <= alone[85]


def test_what_came_true_counts_from_the_last_board(maker: User) -> None:
    build = make_build(boards_wanted=2)
    make_blank(build, done=5, hand=make_hand(at=timezone.now() - timedelta(days=9)))
    assert done_on([build]) == {}
    make_blank(build, done=5, hand=make_hand(at=timezone.now() - timedelta(days=3)))
    assert done_on([build]) == {build.pk: days_ago(3)}


def test_its_pages_say_how_many(bench: Client, maker: User) -> None:
    build = make_build(boards_wanted=2)
    other = make_build("B2", goes_with=build)
    assert "0 of 2 blanks put to it" in bench.get("/builds/").content.decode()
    make_blank(build)
    page = bench.get("/builds/").content.decode()
    assert "1 of 2 blanks put to it" in page
    assert "same instrument as B901" in page
    for one, its in ((build, other), (other, build)):
        assert f'<a href="/builds/{its.number}/">{its}</a>' in bench.get(f"/builds/{one.number}/").content.decode()


def test_goods_that_go_together_are_kept_in_one_group(bench: Client) -> None:
    from tests.shop.test_builds import change

    first, second, third = make_build("B1"), make_build("B2"), make_build("B3")
    assert change(bench, third, goes_with=second.pk, number="B3").status_code == 302
    assert change(bench, second, goes_with=first.pk, number="B2").status_code == 302
    third.refresh_from_db()
    assert third.goes_with == first, "all of them go with the first"
    assert [each.number for each in first.companions()] == ["B2", "B3"]
    for bad in ("999999", "x", str(first.pk)):
        first.refresh_from_db()
        answer = change(bench, first, goes_with=bad, number="B1")
        assert answer.status_code == 422
        assert answer.context["form"].errors["goes_with"]


@pytest.mark.parametrize("boards", ["-1", "13", "1e400", "NaN", "two", "9" * 30])
def test_how_many_boards_it_cannot_want(bench: Client, boards: str) -> None:
    from tests.shop.test_builds import NEW, payload

    answer = bench.post(NEW, payload(boards_wanted=boards))
    assert answer.status_code == 422
    assert answer.context["form"].errors["boards_wanted"]
