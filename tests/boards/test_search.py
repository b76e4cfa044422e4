"""Looking for words in everything, from the box at the top of every page."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.models import Blank, LogEntry, Paper, Photograph
from boards.models.moisture import Way, note_readings
from boards.search import MOST, search
from shop.models import Build, Shop, Species, User
from tests.factories import make_blank, make_blanks, make_build, make_hand, make_pattern, make_species

pytestmark = pytest.mark.django_db


def found(text: str) -> dict[str, list[str]]:
    return {group.title: [row.name for row in group.rows] for group in search(text)}


def fill(word: str, shop: Shop, tag: str = "") -> None:
    """Write a word wherever one can be written."""
    build = make_build(f"B1{tag}", customer=f"{word} & Daughters")
    make_build(f"B2{tag}", title=f"For the {word}")
    make_build(f"B3{tag}", remarks=f"As the {word} said")
    build.note(make_hand(), f"Rang the {word}")
    make_pattern(f"{word}{tag}")
    for column in ("supplier", "lot", "place", "remarks"):
        make_blanks(**{column: f"the {word}"})
    held = make_blank()
    held.hold(make_hand(), held.version, f"Ask the {word}")
    (read,) = make_blanks()
    note_readings(make_hand(), shop, [(read, {"way": Way.METER, "percent": Decimal(9), "remark": f"{word}'s meter"})])
    paper = Paper.objects.create(issued_by=f"{word} of forests", number="P1", at=timezone.now(), by=make_hand().by)
    paper.blanks.add(read)
    picture = {"file": f"x{tag}.jpg", "width": 10, "height": 10, "at": timezone.now(), "by": make_hand().by}
    Photograph.objects.create(blank=read, note=f"By the {word}", **picture)
    make_species(f"Wood of {word}{tag}")


def test_it_finds_words_wherever_they_stand(maker: User, shop: Shop) -> None:
    fill("Zorbel", shop)
    blanks = [f"F000{number}" for number in range(1, 7)]
    assert found("zorbel") == {
        "Blanks": blanks[:4],
        "Builds": ["B1", "B2", "B3"],
        "Notes and reasons about builds": ["B1"],
        "Reasons in the log of a blank": [blanks[4]],
        "Papers": [blanks[5]],
        "Photographs": [blanks[5]],
        "Readings of moisture": [blanks[5]],
        "Patterns": ["Zorbel"],
        "Woods": ["Wood of Zorbel"],
    }


def test_the_wood_of_a_blank_and_a_part_of_its_number(maker: User) -> None:
    make_blanks(species=make_species("Plum"))
    assert found("PLUM") == {"Blanks": ["F0001"], "Woods": ["Plum"]}
    assert found("f00")["Blanks"] == ["F0001"]


@pytest.mark.parametrize("asked", ["Ödön", "ödön", "ÖDÖN", "o\u0308don".replace("don", "do\u0308n")])
def test_small_and_capital_letters_of_other_alphabets(maker: User, asked: str) -> None:
    make_build("B1", customer="Ödön Szél")
    assert found(asked) == {"Builds": ["B1"]}


def test_what_is_not_found(maker: User) -> None:
    make_build("B1", customer="René Groß")
    for asked in ("Rene ", "GROSS"):
        assert found(asked) == {}, "as the page says"


@pytest.mark.parametrize("asked", ["%", "_", "\\", "'", '"; --', ".*", "[", "(", "é("])
def test_signs_are_only_signs(maker: User, asked: str) -> None:
    make_build("B1", customer="Plain")
    assert "Builds" not in found(asked)
    make_build("B2", customer=f"Odd {asked} name")
    assert found(asked)["Builds"] == ["B2"]


def test_of_many_the_first_are_shown_and_said_to_be_so(bench: Client, maker: User) -> None:
    make_blanks(MOST)
    (group,) = search("F00")
    assert (group.count, group.more) == ("50", False)
    make_blanks(1)
    (group,) = search("F00")
    assert (group.count, len(group.rows)) == ("more than 50", MOST)
    assert "More than 50: these are the first." in bench.get("/find/?q=F00&everything=1").content.decode()


def test_the_latest_reason_comes_first_and_shows_where_the_word_is(bench: Client, maker: User) -> None:
    blank = make_blank()
    for days, reason in ((9, "x" * 200 + " shake " + "y" * 200), (2, "A second shake <b>")):
        hand = make_hand(at=timezone.now() - timedelta(days=days))
        blank.hold(hand, blank.version, reason)
        blank.release(hand, blank.version)
    (group,) = search("SHAKE")
    assert [row.before for row in group.rows] == ["A second ", "… " + "x" * 69 + " "]
    page = bench.get("/find/?q=SHAKE").content.decode()
    assert "<mark>shake</mark> &lt;b&gt;" in page


def test_a_number_still_goes_straight_to_the_thing(bench: Client, maker: User) -> None:
    make_blanks(remarks="as B901")
    make_build()
    assert bench.get("/find/?q=b901")["Location"] == "/builds/B901/"


@pytest.mark.parametrize("asked", ["x" * 5000, "a\x00b", "😀", "<script>alert(1)</script>", "\u202eabc", " "])
def test_whatever_is_asked_the_page_stands(bench: Client, asked: str) -> None:
    answer = bench.get("/find/", {"q": asked})
    assert answer.status_code == 200
    assert "<script>alert" not in answer.content.decode()


def test_it_costs_the_same_however_much_is_found(maker: User, shop: Shop) -> None:
    costs = []
    for tag in ("a", "b"):
        fill("Zorbel", shop, tag)
        with CaptureQueriesContext(connection) as captured:
            assert len(search("zorbel")) == 9
        costs.append(len(captured))
    assert costs[0] == costs[1] <= 10


def test_reasons_are_found_by_their_index(maker: User) -> None:
    if connection.vendor != "sqlite":
        pytest.skip("how SQLite goes about it")
    with CaptureQueriesContext(connection) as captured:
        search("shake")
    (sql,) = [each["sql"] for each in captured if "LENGTH(" in each["sql"]]
    with connection.cursor() as cursor:
        cursor.execute(f"EXPLAIN QUERY PLAN {sql}")
        steps = " ".join(str(row[-1]) for row in cursor.fetchall())
    assert "log_by_length_of_reason" in steps


def test_nothing_is_written_by_looking(maker: User) -> None:
    make_blank(make_build())
    before = (LogEntry.objects.count(), Build.objects.values().get(), Species.objects.count())
    search("Lark")
    assert (LogEntry.objects.count(), Build.objects.values().get(), Species.objects.count()) == before


def test_the_beginning_of_a_number_is_looked_for_among_numbers(bench):
    make_blanks(3)
    make_build("F-00", title="Sold as F000")
    page = bench.get("/find/?q=f00").content.decode()
    assert "These numbers begin so." in page
    assert all(f"F000{number}" in page for number in (1, 2, 3))
    assert "Sold as" not in page
    assert "Sold as" in bench.get("/find/?q=f00&everything=1").content.decode()
    # What is no number's beginning is looked for everywhere at once.
    assert "These numbers" not in bench.get("/find/?q=000").content.decode()


def test_numbers_are_found_however_they_are_written(bench):
    blank = make_blanks(1)[0]
    Blank.objects.filter(pk=blank.pk).update(number="Ab-12")
    assert bench.get("/find/?q=ab-12")["Location"] == "/blanks/Ab-12/"
