"""A number that is scanned or typed leads to the work: to the bench with that board in hand, or to why not."""

import pytest
from django.test import Client

from boards.models import Blank
from shop.models import User
from shop.stages import STAGES
from tests.factories import BY_THE_BOOK, days_ago, good_readings, make_blank, make_blanks, make_build, make_hand

pytestmark = pytest.mark.django_db


@pytest.fixture(params=["/scan/{}/", "/find/?q={}", "/find/?q=http://192.0.2.7:8000/scan/{}/"])
def opening(request, bench: Client):
    """Scan with a phone, type the number, scan with a hand scanner into the number box."""
    return lambda number: bench.get(request.param.format(number))


@pytest.mark.parametrize("done", range(5))
def test_it_opens_at_its_stage_ready_to_finish(opening, bench: Client, maker: User, done: int) -> None:
    blank = make_blank(make_build(), done=done)
    make_blank(blank.build, done=done)
    stage = BY_THE_BOOK[done]
    answer = opening(blank.number)
    assert (answer.status_code, answer["Location"]) == (302, f"/benches/{stage}/?board={blank.number}")
    page = bench.get(answer["Location"]).text
    assert f'action="/blanks/{blank.number}/finish/{stage}/"' in page
    assert STAGES[stage].done.capitalize() in page


def a_held_one() -> Blank:
    blank = make_blank(make_build(), done=1)
    blank.hold(make_hand(), blank.version, "A shake")
    return blank


def a_scrapped_one() -> Blank:
    blank = make_blank(make_build())
    blank.scrap(make_hand(), blank.version, "Split")
    return blank


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (a_held_one, "F0001 is held."),
        (a_scrapped_one, "F0001 is scrapped."),
        (lambda: make_blanks()[0], "F0001 is put to no build and no pattern yet."),
        (lambda: make_blank(make_build(), done=5), "F0001 has been through all its stages."),
        (
            lambda: make_blank(make_build(), received_on=days_ago(0)),
            "F0001 waits for thicknessing, but its wood still rests.",
        ),
    ],
)
def test_where_nothing_is_to_be_done_at_a_bench_its_page_says_why(
    opening, bench: Client, maker: User, make, words: str
) -> None:
    make()
    answer = opening("F0001")
    assert (answer.status_code, answer["Location"]) == (302, "/blanks/F0001/")
    assert words in bench.get(answer["Location"]).text


def test_a_board_that_was_finished_a_moment_ago_opens_at_its_next_stage(opening, maker: User) -> None:
    blank = make_blank(make_build())
    assert "thicknessing" in opening(blank.number)["Location"]
    blank.finish(make_hand(), blank.version, "thicknessing", good_readings(blank))
    assert "slotting" in opening(blank.number)["Location"], "no answer of before is kept"


@pytest.mark.parametrize(
    "typed", ["f0001", " F0001 ", "HTTP://SHOP.EXAMPLE/SCAN/F0001/", "shop.local:8000/scan/f0001/"]
)
def test_however_it_is_written(bench: Client, maker: User, typed: str) -> None:
    make_blank(make_build())
    assert bench.get("/find/", {"q": typed})["Location"] == "/benches/thicknessing/?board=F0001"
    assert bench.get("/scan/f0001/")["Location"] == "/benches/thicknessing/?board=F0001"


@pytest.mark.parametrize("printed", ["http://192.0.2.7:8000/blanks/F0001/", "https://shop.example/blanks/F0001/?x#y"])
def test_sheets_printed_before_keep_working(bench: Client, maker: User, printed: str) -> None:
    make_blank(make_build())
    assert bench.get("/find/", {"q": printed})["Location"] == "/benches/thicknessing/?board=F0001"
    assert 'action="/blanks/F0001/finish/thicknessing/"' in bench.get("/blanks/F0001/").text


def test_the_code_of_a_build(bench: Client) -> None:
    make_build()
    assert bench.get("/find/", {"q": "http://shop.example/builds/B901/"})["Location"] == "/builds/B901/"


def test_signed_out_it_asks_who_and_goes_on(client: Client, maker: User) -> None:
    make_blank(make_build())
    answer = client.get("/scan/F0001/")
    assert answer["Location"] == "/sign-in/?next=/scan/F0001/"
    answer = client.post(answer["Location"], {"username": "maker", "password": "a-long-enough-one"}, follow=True)
    assert answer.redirect_chain[-1][0] == "/benches/thicknessing/?board=F0001"


@pytest.mark.parametrize("number", ["F9999", "x" * 300, "-", "0"])
def test_what_is_not_there(bench: Client, number: str) -> None:
    answer = bench.get(f"/scan/{number}/")
    assert answer.status_code == 404 and "There is no blank" in answer.text


@pytest.mark.parametrize(
    "typed",
    [
        "http://elsewhere.example/",
        "http://elsewhere.example/kit/F0001/",
        "javascript:alert(1)",
        "//x/scan//",
        "x/scan/ /",
    ],
)
def test_an_address_that_is_none_of_ours_leads_nowhere(bench: Client, maker: User, typed: str) -> None:
    make_blank(make_build())
    answer = bench.get("/find/", {"q": typed})
    assert answer.status_code == 200 and "Nothing has that number" in answer.text
