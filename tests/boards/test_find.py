"""The number box at the top of every page."""

import pytest
from django.test import Client

from shop.models import User
from tests.factories import make_blanks, make_build

pytestmark = pytest.mark.django_db


def test_it_works(bench: Client, maker: User) -> None:
    (blank,) = make_blanks()
    assert bench.get("/find/", {"q": blank.number})["Location"] == f"/blanks/{blank.number}/"


@pytest.mark.parametrize("typed", ["f0001", " F0001 ", "F0001\n"])
def test_however_it_is_written(bench: Client, maker: User, typed: str) -> None:
    make_blanks()
    assert bench.get("/find/", {"q": typed})["Location"] == "/blanks/F0001/"


def test_a_build(bench: Client) -> None:
    make_build()
    assert bench.get("/find/", {"q": "b901"})["Location"] == "/builds/B901/"


def test_a_part_of_it_gives_a_choice(bench: Client, maker: User) -> None:
    make_blanks(12)
    make_build("X-000")
    answer = bench.get("/find/", {"q": "000"})
    found = {group.title: [row.name for row in group.rows] for group in answer.context["groups"]}
    assert found == {"Blanks": [f"F000{i}" for i in range(1, 10)], "Builds": ["X-000"]}


@pytest.mark.parametrize("typed", ["", "   ", "F9999", "%", "_", "'; --", "x" * 5000, "a\x00b", "<b>F0001</b>", "😀"])
def test_what_is_not_there_is_said(bench: Client, maker: User, typed: str) -> None:
    make_blanks()
    answer = bench.get("/find/", {"q": typed})
    assert answer.status_code == 200
    words = "Nothing has that number" if typed.strip() else "Look for something"
    assert words in answer.content.decode()
    assert "<b>F0001" not in answer.content.decode()


def test_without_a_question(bench: Client) -> None:
    assert bench.get("/find/").status_code == 200
