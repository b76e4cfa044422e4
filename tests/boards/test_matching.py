"""Which blank goes to which build: the best over all of them, said with reasons, and put with one press."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from itertools import product
from random import Random

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.fits import Held, needs, waiting_builds
from boards.matching import match, worths
from boards.matching_page import Pair, accept
from boards.models import Blank, LogEntry
from boards.models.moisture import Way, note_readings
from shop.models import Build, Hand, Shop, User
from tests.factories import days_ago, make_blank, make_blanks, make_build, make_hand, make_pattern, make_species, tap

pytestmark = pytest.mark.django_db


def pairs(shop: Shop) -> dict[str, str]:
    """Which build gets which blank."""
    found = match(shop, today=days_ago(0))
    return {proposal.build.number: proposal.blank.number for proposal in found.proposals}


def why_without(shop: Shop) -> dict[str, str]:
    return {row.build.number: " ".join(row.why) for row in match(shop, today=days_ago(0)).without}


def test_it_works(bench: Client, maker: User, shop: Shop) -> None:
    """The wide blank is the only one that will do for the wide board, though the narrow board is due first."""
    make_build("B1", due_on=days_ago(-30))
    make_build("B2", due_on=days_ago(-60), heel_width=Decimal(66))
    wide, narrow = make_blank(width=Decimal(74)), make_blank(width=Decimal(70))
    assert pairs(shop) == {"B1": narrow.number, "B2": wide.number}
    page = " ".join(bench.get("/rack/matching/").content.decode().split())
    assert "2 builds wait for a blank, 2 blanks free in the rack" in page
    assert 'href="/blanks/F0001/"' in page and "Tightest in width: 2 mm to spare." in page
    assert "No other free blank would do." in page


class TestWhatCounts:
    def test_first_as_many_as_there_can_be(self, maker: User, shop: Shop) -> None:
        """One by one, the first would take the dear wide blank of its own wood and leave the other nothing."""
        pear, plum = make_species("Pear"), make_species("Plum")
        make_build("B1", due_on=days_ago(-20))  # any wood
        make_build("B2", due_on=days_ago(-90), species=pear)
        one, other = make_blank(species=pear, cost=Decimal(1)), make_blank(species=plum, cost=Decimal(500))
        assert pairs(shop) == {"B1": other.number, "B2": one.number}

    def test_where_wood_is_short_the_earlier_due_go_first(self, maker: User, shop: Shop) -> None:
        make_build("B1")  # no date: after all others
        make_build("B2", due_on=days_ago(-90))
        make_build("B3", due_on=days_ago(-60))
        make_build("B4", due_on=days_ago(3))
        make_blanks(2)
        assert set(pairs(shop)) == {"B3", "B4"}
        assert why_without(shop)["B2"].startswith(
            "What would do goes to builds that come before it: F0001 and F0002 to"
        )

    def test_then_the_least_money(self, maker: User, shop: Shop) -> None:
        make_build("B1")
        make_blank(cost=Decimal(40))
        cheap = make_blank(cost=Decimal(12), width=Decimal(90))
        assert pairs(shop) == {"B1": cheap.number}

    def test_without_costs_the_least_volume(self, maker: User, shop: Shop) -> None:
        make_build("B1")
        make_blank(length=Decimal(700), width=Decimal(90))
        small = make_blank()
        assert pairs(shop) == {"B1": small.number}

    def test_a_cost_that_nobody_wrote_is_that_of_its_wood(self, maker: User, shop: Shop) -> None:
        pear, plum, ash = (make_species(name) for name in ("Pear", "Plum", "Ash"))
        size = {"length": Decimal(500), "width": Decimal(50), "thickness": Decimal(10)}  # 250 cm³
        make_blank(species=pear, cost=Decimal(25), **size)
        make_blank(species=plum, cost=Decimal(75), **size)
        for species in (pear, plum, ash):
            make_blank(species=species, **{**size, "length": Decimal(1000)})
        assert worths(list(Blank.objects.order_by("number"))).tolist() == pytest.approx([25, 75, 50, 150, 100])

    def test_settled_goes_before_a_few_pence(self, maker: User, shop: Shop) -> None:
        make_build("B1")
        make_blank(cost=Decimal("19.90"), received_on=days_ago(1))
        rested = make_blank(cost=Decimal("20.10"))
        assert pairs(shop) == {"B1": rested.number}

    def test_but_not_before_half_the_money(self, maker: User, shop: Shop) -> None:
        make_build("B1")
        cheap = make_blank(cost=Decimal(10), received_on=days_ago(1))
        make_blank(cost=Decimal(20))
        assert pairs(shop) == {"B1": cheap.number}

    def test_the_widest_does_not_go_to_the_narrowest(self, maker: User, shop: Shop) -> None:
        """Both would do for both, and cost the same: what is to spare is spread evenly."""
        make_build("B1", due_on=days_ago(-40))
        make_build("B2", due_on=days_ago(-40), heel_width=Decimal(62))
        wide, narrow = make_blank(width=Decimal(78), cost=Decimal(9)), make_blank(width=Decimal(70), cost=Decimal(9))
        assert pairs(shop) == {"B1": narrow.number, "B2": wide.number}


class TestWoodThatIsNotSettled:
    def test_it_waits_for_a_build_that_leaves_time(self, bench: Client, maker: User, shop: Shop) -> None:
        make_build("B1", due_on=days_ago(-(shop.rest_days + shop.horizon_days)))
        fresh = make_blank(received_on=days_ago(0))
        (proposal,) = match(shop, today=days_ago(0)).proposals
        assert proposal.blank == fresh and "It will not have settled before" in proposal.caution
        page = bench.get("/rack/matching/").content.decode()
        assert "<b>Caution</b> It will not have settled before" in page
        assert "checked" not in page, "it takes a tick of one's own"

    def test_a_day_less_is_too_little(self, maker: User, shop: Shop) -> None:
        make_build("B1", due_on=days_ago(-(shop.rest_days + shop.horizon_days) + 1))
        make_blank(received_on=days_ago(0))
        assert pairs(shop) == {}
        assert "F0001 would do but will hardly have settled before" in why_without(shop)["B1"]

    def test_one_without_a_day_has_all_the_time(self, maker: User, shop: Shop) -> None:
        make_build("B1")
        make_blank(received_on=days_ago(0))
        assert pairs(shop) == {"B1": "F0001"}

    def test_readings_tell_when_better_than_days(self, maker: User, shop: Shop) -> None:
        """It has lain long enough by the calendar, and dries slowly all the same: half of what is left in 14 days."""
        blank = make_blank(received_on=days_ago(60))
        emc = shop.air.emc
        for ago, over in ((42, 6.4), (28, 3.2), (14, 1.6)):
            percent = Decimal(f"{emc + over:.1f}")
            hand = make_hand(at=timezone.now() - timedelta(days=ago))
            note_readings(hand, shop, [(blank, {"way": Way.METER, "percent": percent})])
        make_build("B1", due_on=days_ago(-120))
        (proposal,) = match(Shop.current(), today=days_ago(0)).proposals
        assert proposal.caution.startswith("Not settled yet. Expected ")
        Build.objects.update(due_on=days_ago(-2))
        assert "F0001 would do but will hardly have settled before" in why_without(Shop.current())["B1"]

    def test_composite_board_needs_none(self, maker: User, shop: Shop) -> None:
        make_build("B1", due_on=days_ago(-1))
        make_blank(species=make_species("Pressed paper", composite=True), received_on=days_ago(0))
        (proposal,) = match(shop, today=days_ago(0)).proposals
        assert not proposal.caution


class TestWhyThereIsNone:
    def test_no_such_wood(self, maker: User, shop: Shop) -> None:
        make_build("B1", species=make_species("Plum"))
        make_blank(species=make_species("Pear"))
        assert why_without(shop)["B1"] == "No blank of Plum is free. F0001 in Pear has the size."

    def test_too_small_says_the_nearest(self, bench: Client, maker: User, shop: Shop) -> None:
        plum = make_species("Plum")
        make_build("B1", species=plum, heel_width=Decimal(66))  # needs 72
        make_blank(species=plum, width=Decimal(60))
        make_blank(species=plum, width=Decimal(71))
        why = why_without(shop)["B1"]
        assert why == "No free blank of Plum is large enough. Nearest is F0002: 1 mm short in width."
        page = " ".join(bench.get("/rack/matching/").content.decode().split())
        assert "No free blank would do for a build that waits." in page and "Plum, 519.2 × 72 × 7.1 mm" in page

    def test_cut_for_something_else(self, maker: User, shop: Shop) -> None:
        make_build("B1", scale=Decimal(628))
        blank = make_blank(make_pattern(), done=2)
        blank.take_off(make_hand(), blank.version)
        assert "It is slotted for a scale of 648 mm; B1 wants 628 mm" in why_without(shop)["B1"]

    def test_an_empty_rack(self, bench: Client, maker: User, shop: Shop) -> None:
        make_build("B1")
        assert why_without(shop) == {"B1": "No blank is free."}
        Build.objects.update(state="delivered", closed_on=timezone.localdate())
        assert "Every open build has its blanks." in bench.get("/rack/matching/").content.decode()

    def test_a_build_that_cannot_be_worked_out(self, bench: Client, maker: User) -> None:
        make_build("B1")
        Build.objects.update(radius_nut=Decimal(21), radius_heel=Decimal(21))
        assert "B1 Lark, six strings</a>: its page says why" in bench.get("/rack/matching/").content.decode()


def test_held_scrapped_and_promised_blanks_never(maker: User, shop: Shop) -> None:
    make_build("B1")
    held, scrapped = make_blanks(2)
    held.hold(make_hand(), held.version, "A knot")
    scrapped.scrap(make_hand(), scrapped.version, "Split")
    make_blank(make_pattern())
    make_blank(make_build("B2"))
    assert pairs(shop) == {}


def test_a_worked_board_goes_where_it_was_cut_for(maker: User, shop: Shop) -> None:
    make_build("B1", due_on=days_ago(-60))
    make_build("B2", due_on=days_ago(-30), scale=Decimal(628))
    worked = make_blank(make_pattern(), done=2)
    worked.take_off(make_hand(), worked.version)
    fresh = make_blank()
    assert pairs(shop) == {"B1": worked.number, "B2": fresh.number}


@pytest.mark.parametrize("seed", range(6))
def test_no_other_way_would_serve_more_or_spend_less(maker: User, shop: Shop, seed: int) -> None:
    """Against all ways there are, for a few builds and blanks of unlike size, wood, cost and due day."""
    random = Random(seed)
    woods = [make_species(name) for name in ("Pear", "Plum")]
    for place in range(4):
        due = random.choice([None, days_ago(-30), days_ago(-50)])
        heel = Decimal(random.choice([57, 60, 66]))
        make_build(f"B{place}", due_on=due, heel_width=heel, species=random.choice([None, *woods]))
    for _ in range(4):
        width, cost = Decimal(random.choice([60, 64, 68, 74])), Decimal(random.choice([10, 20, 40]))
        make_blank(width=width, cost=cost, species=random.choice(woods))
    blanks, needed = list(Blank.objects.prefetch_related("log")), needs(waiting_builds(), shop)
    fits = Held(blanks, needed).fits

    def score(way: tuple[int, ...]) -> tuple:
        served = [row for row, at in enumerate(way) if at >= 0]
        days = sorted(needed[row].spec.due_on or days_ago(-9999) for row in served)
        return -len(served), days, sum(blanks[way[row]].cost for row in served)

    ways = [
        way
        for way in product(range(-1, len(blanks)), repeat=len(needed))
        if len({at for at in way if at >= 0}) == sum(at >= 0 for at in way)
        and all(at < 0 or fits[row, at] for row, at in enumerate(way))
    ]
    mine = pairs(shop)
    place = {blank.number: at for at, blank in enumerate(blanks)}
    way = tuple(place[mine[need.spec.number]] if need.spec.number in mine else -1 for need in needed)
    assert score(way) == min(map(score, ways))


class TestPutting:
    def offered(self, bench: Client) -> list[str]:
        return [proposal.as_seen for proposal in bench.get("/rack/matching/").context["found"].proposals]

    def test_the_ticked_ones(self, bench: Client, maker: User) -> None:
        for number in ("B1", "B2", "B3"):
            make_build(number)
        make_blanks(3)
        offered = self.offered(bench)
        typed = tap(ticked=offered[:2], offered=offered)
        answer = bench.post("/rack/matching/put/", typed, follow=True)
        assert "Put: F0001 to B1, F0002 to B2." in answer.content.decode()
        assert [blank.build and blank.build.number for blank in Blank.objects.order_by("number")] == ["B1", "B2", None]
        entries = LogEntry.objects.filter(kind="assigned")
        assert [(entry.number, entry.by, str(entry.request_id)) for entry in entries] == [(2, maker, typed["tap"])] * 2
        bench.post("/rack/matching/put/", typed)
        assert LogEntry.objects.filter(kind="assigned").count() == 2, "a second delivery puts nothing again"

    def test_all(self, bench: Client, maker: User) -> None:
        make_build("B1")
        make_build("B2")
        make_blanks(2, received_on=days_ago(0))
        bench.post("/rack/matching/put/", tap(all="yes", offered=self.offered(bench)))
        assert not Blank.objects.filter(build=None).exists()

    def test_none(self, bench: Client, maker: User) -> None:
        make_build("B1")
        make_blank()
        answer = bench.post("/rack/matching/put/", tap(offered=self.offered(bench)))
        assert answer.status_code == 422
        assert "Nothing is ticked, so nothing was put." in answer.content.decode()

    def test_what_others_took_is_named_and_the_rest_goes_through(
        self, bench: Client, other_bench: Client, maker: User, owner: User
    ) -> None:
        for number in ("B1", "B2", "B3", "B4"):
            make_build(number)
        first, second, third, fourth = make_blanks(4)
        offered = self.offered(bench)
        hand = Hand(owner, timezone.now())
        first.put_to(hand, first.version, make_pattern())  # the blank is taken
        fifth = make_blank()
        fifth.put_to(hand, fifth.version, Build.objects.get(number="B2"))  # the build has another
        third.hold(hand, third.version, "A knot")
        answer = bench.post("/rack/matching/put/", tap(ticked=offered), follow=True)
        page = answer.content.decode()
        assert "Put: F0004 to B4." in page
        assert "Nell Harrow has changed F0001 since you saw it: put to Lark." in page
        assert "B2 has F0005 by now." in page and "Nell Harrow has changed F0003" in page
        assert {blank.number for blank in Blank.objects.exclude(build=None)} == {"F0004", "F0005"}
        second.refresh_from_db()
        assert second.version == 1

    def test_where_all_is_taken_nothing_is_kept(self, bench: Client, maker: User) -> None:
        build = make_build("B1")
        make_blank()
        offered = self.offered(bench)
        Build.objects.filter(pk=build.pk).update(version=1, heel_width=Decimal(90))
        answer = bench.post("/rack/matching/put/", tap(ticked=offered))
        assert answer.status_code == 409
        assert "B1 has been changed since you saw it." in answer.content.decode()
        assert not Blank.objects.exclude(build=None).exists()

    def test_a_build_closed_or_gone_meanwhile(self, maker: User) -> None:
        make_build("B1", closed_on=timezone.localdate())
        make_blank()
        done = accept(pairs=[Pair("F0001", 1, "B1", 0), Pair("F0099", 1, "B9", 0)], hand=make_hand())
        assert done.put == []
        assert "that build is closed" in done.lost[0] and done.lost[1] == "B9 has been changed since you saw it."

    @pytest.mark.parametrize(
        "text", ["", "F0001", "F0001:1:B1", "F0001:1:B1:x", "F0001:1:B1:0:", "a\x00:1:b:1", "é:1:b:1"]
    )
    def test_a_tampered_form(self, bench: Client, maker: User, text: str) -> None:
        assert bench.post("/rack/matching/put/", tap(ticked=[text])).status_code == 400


def test_it_asks_the_database_as_much_for_many_as_for_few(bench: Client, maker: User) -> None:
    def more(how_many: int) -> None:
        there = Build.objects.count()
        for number in range(there, there + how_many):
            make_build(f"B{number}", due_on=days_ago(-number))
        make_blanks(how_many)
        worked = make_blank(make_pattern(f"Lark {there}"), done=1)
        worked.take_off(make_hand(), worked.version)

    more(3)
    with CaptureQueriesContext(connection) as few:
        bench.get("/rack/matching/")
    more(20)
    with CaptureQueriesContext(connection) as many:
        assert len(bench.get("/rack/matching/").context["found"].proposals) == 23
    assert len(many) == len(few) <= 12
