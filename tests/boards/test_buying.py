"""What to buy: what is needed less what is there, by wood and size, reckoned here by hand."""

from __future__ import annotations

import csv
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.buying import ENOUGH, BuyingList, asked_size, buying_list, spoiled_share
from boards.buying_page import harmless
from boards.models import Blank
from geometry.result import Size
from shop.models import Build, Pattern, Shop, User
from tests.factories import (
    days_ago,
    make_blank,
    make_blanks,
    make_build,
    make_hand,
    make_pattern,
    make_route,
    make_species,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def careful(shop: Shop) -> Shop:
    """A shop that spoils nothing."""
    Shop.objects.update(spoiled_in_hundred=0)
    return Shop.current()


def table(found: BuyingList) -> list[tuple[str, str, int, int, int]]:
    return [(str(line.species), line.size, line.needed, line.in_rack, line.buy) for line in found.lines]


def yearly(name: str, boards: int, **changes: object) -> Pattern:
    pattern = make_pattern(name, **changes)
    Pattern.objects.filter(pk=pattern.pk).update(boards_a_year=boards)
    return pattern


def test_it_works(bench: Client, maker: User, careful: Shop) -> None:
    """648 (1 - 2^(-22/12)) + 8 + 20 + 25 is 519.2; 57 + 6 is 63; 6 + 0.15 + 0.15 + 0.8 is 7.1."""
    pear, plum = make_species("Pear"), make_species("Plum")
    make_build("B1", species=pear)
    make_build("B2", species=pear)
    make_build("B3", species=plum)
    yearly("Lark", 12, species=plum)
    make_blank(species=pear)
    make_blanks(3, species=plum)
    found = buying_list(careful, months=3)
    assert table(found) == [
        ("Pear", "520 × 65 × 7.5 mm", 2, 1, 1),
        ("Plum", "520 × 65 × 7.5 mm", 4, 3, 1),
    ]
    page = " ".join(bench.get("/rack/buying/?months=3").content.decode().split())
    assert "2 blanks to buy, 4 free in the rack" in page
    assert ">Lark</a>, 3 boards" in page and ">B1</a>, <a" in page


@pytest.mark.parametrize(
    ("size", "steps", "asked"),
    [
        ((519.16, 63, 7.1), (5, "0.5"), (520, 65, 7.5)),
        ((520, 65, 7.5), (5, "0.5"), (520, 65, 7.5)),
        ((520.0000004, 65, 7.5), (5, "0.5"), (520, 65, 7.5)),
        ((520.01, 65.01, 7.51), (5, "0.5"), (525, 70, 8)),
        ((519.16, 63, 7.1), ("6.35", "1.5875"), (520.7, 63.5, 7.9375)),
        ((1, 1, 1), (10, 10), (10, 10, 10)),
    ],
)
def test_sizes_are_rounded_up_to_the_shops_steps(shop: Shop, size: tuple, steps: tuple, asked: tuple) -> None:
    shop.buying_step, shop.buying_step_thickness = (Decimal(str(step)) for step in steps)
    found = asked_size(Size(*size), shop)
    assert (found.length, found.width, found.thickness) == pytest.approx(asked, abs=1e-9)


class TestWhatIsNeeded:
    def test_builds_with_a_blank_closed_ones_and_idle_patterns_need_none(self, maker: User, careful: Shop) -> None:
        make_blank(make_build("B1"))
        make_build("B2", closed_on=timezone.localdate())
        make_pattern()
        assert buying_list(careful, months=12).lines == []

    @pytest.mark.parametrize(("months", "boards"), [(0, 0), (1, 1), (6, 4), (7, 5), (12, 7), (24, 14)])
    def test_a_pattern_uses_its_share_of_the_year(self, maker: User, careful: Shop, months: int, boards: int) -> None:
        yearly("Lark", 7)
        found = buying_list(careful, months=months)
        assert sum(line.needed for line in found.lines) == boards

    def test_what_is_ordered_or_begun_of_it_is_not_bought_twice(self, maker: User, careful: Shop) -> None:
        lark = yearly("Lark", 12)
        make_build("B1", pattern=lark)
        make_build("B2", pattern=lark, closed_on=timezone.localdate())
        make_blank(lark, done=1)
        make_blank(lark, done=5)
        scrapped = make_blank(lark)
        scrapped.scrap(make_hand(), scrapped.version, "Split")
        (line,) = buying_list(careful, months=12).lines
        assert [(str(pattern), boards) for pattern, boards in line.patterns] == [("Lark", 12 - 1 - 1)]
        assert [build.number for build in line.builds] == ["B1"]

    def test_a_spec_that_cannot_be_worked_out_spoils_no_list(self, bench: Client, maker: User, careful: Shop) -> None:
        make_build("B1")
        bad = make_build("B2")
        Build.objects.filter(pk=bad.pk).update(radius_nut=Decimal(21), radius_heel=Decimal(21))
        assert [line.needed for line in buying_list(careful, months=6).lines] == [1]
        assert bench.get("/rack/buying/").status_code == 200


class TestOneSizeForSeveral:
    def test_a_little_larger_serves_both(self, maker: User, careful: Shop) -> None:
        make_build("B1")
        make_build("B2", heel_width=Decimal(63))  # 69 wide: 70, of which 65 is a part
        assert table(buying_list(careful, months=0)) == [("None", "520 × 70 × 7.5 mm", 2, 0, 2)]

    def test_much_larger_does_not(self, maker: User, careful: Shop) -> None:
        make_build("B1")
        make_build("B2", heel_width=Decimal(80))
        assert [line.size for line in buying_list(careful, months=0).lines] == [
            "520 × 90 × 7.5 mm",
            "520 × 65 × 7.5 mm",
        ]

    def test_nor_another_wood(self, maker: User, careful: Shop) -> None:
        make_build("B1", species=make_species("Pear"))
        make_build("B2", species=make_species("Pressed paper", composite=True))
        make_build("B3")
        assert [str(line.species) for line in buying_list(careful, months=0).lines] == ["Pear", "Pressed paper", "None"]


class TestWhatIsThere:
    def test_only_what_is_free_and_fits(self, maker: User, careful: Shop) -> None:
        make_build("B1")
        make_blank(width=Decimal(60))
        held = make_blank()
        held.hold(make_hand(), held.version, "A knot")
        make_blank(make_pattern())
        assert [line.buy for line in buying_list(careful, months=0).lines] == [1]
        make_blank(received_on=days_ago(0))  # it rests, and is there all the same
        assert [line.buy for line in buying_list(careful, months=0).lines] == [0]

    def test_each_blank_counts_once_and_where_nothing_else_would_do(self, maker: User, careful: Shop) -> None:
        """The plum must be left to the build that asks for plum, though any wood would take it."""
        plum = make_species("Plum")
        make_build("B1", due_on=days_ago(-5))
        make_build("B2", due_on=days_ago(-50), species=plum)
        make_blank(species=plum)
        make_blank(species=make_species("Pear"))
        assert [line.buy for line in buying_list(careful, months=0).lines] == [0, 0]

    def test_builds_come_before_patterns(self, maker: User, careful: Shop) -> None:
        yearly("Lark", 12, heel_width=Decimal(80))
        make_build("B1")
        make_blank(width=Decimal(90))
        lines = {line.needed: line.in_rack for line in buying_list(careful, months=12).lines}
        assert lines == {12: 0, 1: 1}


class TestWhatIsSpoiled:
    def test_by_the_shops_habits_at_first(self, maker: User, shop: Shop) -> None:
        """Ten good ones at one in ten lost take eleven, to the nearest; one takes one."""
        Shop.objects.update(spoiled_in_hundred=10)
        for number in range(10):
            make_build(f"B{number}")
        make_build("B99", species=make_species("Plum"))
        lines = buying_list(Shop.current(), months=0).lines
        assert {(str(line.species), line.spoiled, line.buy) for line in lines} == {("None", 1, 11), ("Plum", 0, 1)}

    def test_then_by_the_log(self, bench: Client, maker: User, shop: Shop) -> None:
        lark = make_pattern(route=make_route(["thicknessing"]))
        for blank in make_blanks(ENOUGH - 1):
            blank.put_to(make_hand(), blank.version, lark)
            blank.finish(make_hand(), blank.version, "thicknessing", {})
        assert spoiled_share(shop).boards == 0
        for blank in Blank.objects.all()[:3]:
            blank.scrap(make_hand(), blank.version, "Cupped")  # finished, and spoiled after all
        spare = make_blank()
        spare.scrap(make_hand(), spare.version, "Split")
        found = spoiled_share(shop)
        assert (found.boards, found.scrapped, found.share) == (30, 4, pytest.approx(4 / 30))
        assert "Of the last 30 boards 4 came to nothing" in " ".join(
            bench.get("/rack/buying/").content.decode().split()
        )
        slip = Blank.objects.get(pk=spare.pk)
        slip.undo(make_hand(), slip.version, slip.last_undoable())
        assert spoiled_share(shop).boards == 0, "what was taken back never happened"

    def test_what_lies_there_makes_up_for_it_first(self, maker: User, shop: Shop) -> None:
        Shop.objects.update(spoiled_in_hundred=50)
        make_build("B1")
        make_blanks(3)
        (line,) = buying_list(Shop.current(), months=0).lines
        assert (line.needed, line.spoiled, line.in_rack, line.buy) == (1, 1, 2, 0)


class TestThePage:
    @pytest.mark.parametrize(
        ("typed", "said"),
        [
            ("", "Fill this in."),
            ("six", "That is not a whole number."),
            ("6.5", "That is not a whole number."),
            ("-1", "It cannot be less than 0."),
            ("61", "It cannot be more than 60."),
            ("1e400", "That is not a whole number."),
            ("9" * 400, "It cannot be more than 60."),
            ("nan", "That is not a whole number."),
            ("6\x00", "That is not a whole number."),
        ],
    )
    def test_months_that_cannot_be(self, bench: Client, typed: str, said: str) -> None:
        answer = bench.get("/rack/buying/", {"months": typed})
        assert answer.status_code == 200
        assert said in answer.context["form"].errors["months"][0]
        assert answer.context["found"].months == 6
        assert bench.get("/rack/buying/buying-list.csv", {"months": typed}).status_code == 200

    def test_nothing_is_needed(self, bench: Client) -> None:
        assert "No build waits for a blank" in bench.get("/rack/buying/").content.decode()

    def test_the_table(self, bench: Client, maker: User, careful: Shop) -> None:
        make_build("B1", species=make_species("=cmd|' /C calc'!A0"))
        answer = bench.get("/rack/buying/buying-list.csv")
        assert (
            answer["Content-Type"] == "text/csv; charset=utf-8" and "buying-list.csv" in answer["Content-Disposition"]
        )
        head, row = csv.reader(answer.content.decode("utf-8-sig").splitlines())
        assert head[:4] == ["wood", "length mm", "width mm", "thickness mm"]
        assert row == ["'=cmd|' /C calc'!A0", "520", "65", "7.5", "1", "0", "0", "1", "B1", ""]

    def test_formulas(self) -> None:
        assert [harmless(text) for text in ("=1", "+1", "-1", "@a", "\tx", "Pear", "")] == [
            *("'=1", "'+1", "'-1", "'@a", "'\tx", "Pear", "")
        ]

    def test_it_asks_the_database_as_much_for_many_as_for_few(self, bench: Client, maker: User) -> None:
        def more(how_many: int) -> None:
            there = Build.objects.count()
            for number in range(there, there + how_many):
                radius = Decimal(254 + number)
                make_build(f"B{number}", radius_nut=radius, radius_heel=radius)
                yearly(f"Lark {number}", 10, species=make_species(f"Wood {number % 4}"))
                make_blank()

        more(3)
        with CaptureQueriesContext(connection) as few:
            bench.get("/rack/buying/")
        more(12)
        with CaptureQueriesContext(connection) as many:
            bench.get("/rack/buying/")
        assert len(many) == len(few) <= 15
