"""The way to labels: which blanks, which sheet, from which label on."""

import re

import pytest
from django.test import Client

from shop.models import LabelSheet
from tests.factories import make_blanks, make_hand
from tests.print.test_labels import codes_on

pytestmark = pytest.mark.django_db


def test_labels_for_the_box_that_just_came_in(bench: Client) -> None:
    blanks = make_blanks(5, lot="Shelf 7")
    others = make_blanks(2)
    page = bench.get(f"/labels/?box={blanks[2].number}")
    assert [blank.number for blank in page.context["wanted"].blanks] == [blank.number for blank in blanks]
    assert f"{blanks[0].number} to {blanks[4].number}" in " ".join(bench.get("/labels/").content.decode().split())
    for query, wanted in (
        (f"numbers={others[0].number}", others[:1]),
        (f"numbers={blanks[1].number.lower()}, {others[1].number}", [blanks[1], others[1]]),
        (f"numbers={blanks[1].number} to {blanks[3].number}", blanks[1:4]),
        ("lot=sHELF 7", blanks),
    ):
        found = bench.get(f"/labels/?{query}").context["wanted"].blanks
        assert [blank.number for blank in found] == [blank.number for blank in wanted], query


def test_the_first_free_label_is_pressed_on_the_drawing_or_typed(bench: Client) -> None:
    (blank,) = make_blanks(1)
    sheet = LabelSheet.objects.get(columns=2, rows=7)
    address = f"/labels/?numbers={blank.number}&sheet={sheet.pk}"
    page = bench.get(f"{address}&start=9").content.decode()
    links = re.findall(r'<a href="([^"]*)" aria-label="Start at label (\d+)"', page)
    assert [int(place) for _, place in links] == list(range(1, 15))
    link = {place: href for href, place in links}["5"].replace("&amp;", "&")
    again = bench.get(link)
    assert again.context["start"] == 5
    assert 'type="number" name="start" min="1" max="14" value="5"' in again.content.decode()
    pdf = bench.get(again.context["pdf"])
    assert pdf["Content-Type"] == "application/pdf" and pdf["Cache-Control"] == "no-store"
    ((text, _, y),) = codes_on(pdf.content)
    assert text == f"http://testserver/scan/{blank.number}/"
    assert bench.get(text, follow=True).context["blank"] == blank, "it leads to the blank"
    assert float(sheet.corner(5)[1]) < y < float(sheet.corner(7)[1])
    assert bench.get(address).context["free"] == 6, "a used sheet can go back in where it ended"


@pytest.mark.parametrize(
    "query",
    ["numbers=", "numbers=%00", "lot=" + "x" * 50, "numbers=" + "9" * 5000, "box=%00", "box=F9999", "lot=nothing"],
)
def test_what_cannot_be_found_is_said(bench: Client, query: str) -> None:
    assert bench.get(f"/labels/?{query}").status_code in (200, 422)
    assert bench.get(f"/labels/print.pdf?{query}").status_code == 409


@pytest.mark.parametrize("start", ["0", "-3", "99999999", "x", "²", "1e9", ""])
def test_a_start_that_is_none_is_put_right(bench: Client, start: str) -> None:
    (blank,) = make_blanks(1)
    assert 1 <= bench.get("/labels/", {"numbers": blank.number, "start": start}).context["start"] <= 50


def test_scrapped_blanks_get_none_and_too_many_are_told(bench: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    blanks = make_blanks(6, lot="L1")
    blanks[0].scrap(make_hand(), blanks[0].version, "Split")
    assert len(bench.get("/labels/?lot=L1").context["wanted"].blanks) == 5
    monkeypatch.setattr("boards.labels.MOST_AT_ONCE", 3)
    page = bench.get("/labels/?lot=L1")
    assert page.context["wanted"].too_many and len(page.context["wanted"].blanks) == 3
    assert "the most at once" in page.content.decode()


def test_the_intake_page_leads_to_labels(bench: Client) -> None:
    blanks = make_blanks(2)
    page = bench.get(f"/intake/?like={blanks[1].number}&first={blanks[0].number}").content.decode()
    assert f"/labels/?box={blanks[0].number}" in page


def test_blanks_are_ticked_in_the_rack(bench: Client) -> None:
    first, _second, third = make_blanks(3)
    assert bench.get("/rack/").text.count('name="numbers"') == 3
    page = bench.get("/labels/", {"numbers": [first.number, third.number]})
    assert [blank.number for blank in page.context["wanted"].blanks] == [first.number, third.number]
    assert page.context["wanted"].words == f"{first.number}, {third.number}"
    assert f"numbers={first.number}+{third.number}" in page.context["pdf"]
    assert bench.get("/labels/").context["wanted"] is None, "none ticked: the page asks which"
