"""The rack and what can be looked for in it."""

import pytest
from django.test import Client

from boards.models import Blank
from shop.models import Shop, User
from tests.factories import days_ago, make_blank, make_blanks, make_build, make_hand, make_pattern, make_species

pytestmark = pytest.mark.django_db


def shown(client: Client, **asked: object) -> list[str]:
    answer = client.get("/rack/", asked)
    assert answer.status_code == 200
    return [row["blank"].number for row in answer.context["rows"]]


def test_it_works(bench: Client, maker: User) -> None:
    rested = make_blank()
    resting = make_blank(received_on=days_ago(3))
    put = make_blank(make_build())
    make_blank(make_pattern(), done=1)
    assert shown(bench) == [rested.number, put.number, resting.number], "those that came in first stand first"
    page = bench.get("/rack/").content.decode()
    assert page.count("Moisture: not known; rested 90 days.") == 2
    assert "Moisture: not known; in the shop for 3 days." in page
    for address in ("/rack/matching/", "/rack/buying/", "/rack/resting/", "/labels/", "/export/"):
        assert f'href="{address}"' in page


def test_filters(bench: Client, maker: User, shop: Shop) -> None:
    pear, pressed = make_species("Pear"), make_species("Pressed paper", composite=True)
    free = make_blank(species=pear)
    resting = make_blank(species=pear, received_on=days_ago(shop.rest_days - 1))
    composite = make_blank(species=pressed, received_on=days_ago(0))
    put = make_blank(make_build())
    patterned = make_blank(make_pattern())
    held = make_blank()
    held.hold(make_hand(), held.version, "A knot")
    scrapped = make_blank()
    scrapped.scrap(make_hand(), scrapped.version, "Split")
    numbers = {blank.number for blank in (free, resting, composite, put, patterned, held)}
    assert set(shown(bench)) == numbers
    assert set(shown(bench, species=pear.pk)) == {free.number, resting.number}
    assert shown(bench, show="resting") == [resting.number]
    assert set(shown(bench, show="waiting")) == {free.number, composite.number, held.number}
    assert set(shown(bench, show="put")) == {put.number, patterned.number}
    assert shown(bench, show="held") == [held.number]
    assert shown(bench, show="waiting", species=pear.pk) == [free.number]


def test_held_boards_are_found_wherever_they_lie(bench: Client, maker: User) -> None:
    fresh, begun = make_blank(make_pattern()), make_blank(make_pattern("Wren"), done=2)
    make_blank(make_pattern("Finch"), done=2)
    for blank in (fresh, begun):
        blank.hold(make_hand(), blank.version, "A knot")
    assert shown(bench, show="held") == [fresh.number, begun.number]
    assert shown(bench) == [fresh.number]


def test_an_empty_rack_leads_to_the_intake(bench: Client, maker: User) -> None:
    page = bench.get("/rack/", {"q": "", "species": "", "show": ""}).content.decode()
    assert 'The rack is empty. <a href="/intake/">Log new blanks</a>' in page
    make_blank()
    page = bench.get("/rack/", {"q": "nothing of that name"}).content.decode()
    assert "No blank in the rack is like that." in page
    assert "The rack is empty" not in page


def test_the_day_on_which_a_blank_has_rested(bench: Client, maker: User, shop: Shop) -> None:
    shop.rest_days = 28
    shop.save()
    blank = make_blank(received_on=days_ago(28))
    assert shown(bench, show="waiting") == [blank.number]
    assert not blank.is_resting(days_ago(0), 28)
    assert blank.is_resting(days_ago(1), 28)
    assert [b.number for b in Blank.objects.rested_by(days_ago(1), 28)] == []


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("lower", True),
        ("LOWER YARD", True),
        ("box 4", True),
        ("A3", True),
        ("F0001", True),
        ("lark", True),
        ("b901", True),
        ("knot", True),
        ("pear", True),
        ("upper", False),
        ("%", False),
        ("x" * 80, False),
    ],
)
def test_looking_for_words(bench: Client, maker: User, asked: str, found: bool) -> None:
    make_blank(make_build(), supplier="Lower Yard", lot="box 4", place="A3", remarks="A knot")
    assert bool(shown(bench, q=asked)) is found


@pytest.mark.parametrize(
    "asked",
    [
        {"species": "pear"},
        {"species": "99999999999999999999"},
        {"show": "nonsense"},
        {"q": "x" * 5000},
        {"q": "a\x00b"},
        {"page": "-1"},
        {"page": "1e400"},
        {"page": "99999999999999999999"},
        {"nope": "1"},
    ],
)
def test_a_question_that_makes_no_sense_breaks_nothing(bench: Client, maker: User, asked: dict[str, str]) -> None:
    make_blanks(2)
    assert bench.get("/rack/", asked).status_code == 200


def test_nothing_found_is_said(bench: Client) -> None:
    assert "No blank in the rack is like that." in bench.get("/rack/", {"q": "nothing"}).content.decode()


def test_page_by_page(bench: Client, maker: User) -> None:
    make_blanks(120, lot="box 9")
    pages = [shown(bench, page=page, q="box 9") for page in (1, 2, 3)]
    assert [len(page) for page in pages] == [50, 50, 20]
    assert len({number for page in pages for number in page}) == 120
    assert "?q=box+9&amp;page=3" in bench.get("/rack/", {"q": "box 9", "page": 2}).content.decode()


def test_htmx_gets_the_list_alone(bench: Client, maker: User) -> None:
    make_blanks()
    answer = bench.get("/rack/", headers={"hx-request": "true"})
    assert answer.content.decode().lstrip().startswith('<div id="rack-list"')
    assert "HX-Request" in answer["Vary"]


def test_it_says_which_builds_a_blank_fits(bench: Client, maker: User) -> None:
    make_build("B905", due_on=days_ago(-9))
    make_build("B906", due_on=days_ago(-3), heel_width=90)
    make_blank(thickness=8)
    page = bench.get("/rack/").content.decode()
    assert "Fits B905." in " ".join(page.split())
    assert "2 builds wait for a blank" in page
