"""Two tablets at one bench: what one finishes leaves the other's list, and nothing moves under a finger."""

from __future__ import annotations

import re
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from boards.models import Bench, Blank
from boards.plans import day_at
from shop.models import Build, Shop, User
from tests.browser.conftest import Open
from tests.factories import days_ago, good_readings, make_blank, make_build, make_hand, make_user

SOON = 10_000  # ms: what the page promises
RUN = 5

PLACES = """() => Object.fromEntries(
    [...document.querySelectorAll('[id^=run-], .hand .go.big, .hand input:not([type=hidden]), .came, .beside')]
    .map(e => [e.id || e.classList[0], e.getBoundingClientRect()])
    .map(([name, box]) => [name, [box.x + scrollX, box.y + scrollY, box.width, box.height]]))"""


@pytest.fixture
def run(transactional_db: None) -> list[Blank]:
    """A run of boards whose setup stands."""
    hand = make_hand(make_user("maker", first_name="Bo"))
    build = make_build("B901", due_on=days_ago(-3))
    blanks = [make_blank(build, done=2, hand=hand) for _ in range(RUN)]
    shop = Shop.current()
    (first,) = day_at("radiusing", shop, days_ago(0)).runs
    Bench.at("radiusing").stand(hand, 0, first.pieces, shop)
    return blanks


@pytest.fixture
def ana(transactional_db: None) -> User:
    return make_user("ana", first_name="Ana")


def finish(blank: Blank, by: User) -> None:
    """Another tablet finishes a board."""
    blank.finish(make_hand(by), blank.version, "radiusing", good_readings(blank))


def look(page: Page) -> None:
    """Let a page ask at once, as it does when somebody comes back to it, and spare the tests the seconds between."""
    page.evaluate("() => document.dispatchEvent(new Event('visibilitychange'))")


def at_the_bench(open_browser: Open, query: str = "", **more: Any) -> Page:
    page = open_browser(User.objects.get(username="maker"), **more)
    page.goto(f"/benches/radiusing/{query}")
    return page


def test_what_one_finishes_leaves_the_others_list(open_browser: Open, run: list[Blank], ana: User) -> None:
    """Row by row: the two boxes are the same to the last figure, and what was typed stays."""
    other = open_browser(ana)
    page = at_the_bench(open_browser)
    page.get_by_label("Thickness on the centreline").fill("6.1")
    before = page.evaluate(PLACES)
    assert len(before) > RUN + 1
    other.goto(f"/benches/radiusing/?board={run[2].number}")
    for name, value in good_readings(run[2]).items():
        other.locator(f"[name={name}]").fill(str(value))
    other.get_by_role("button", name="Radiused, next board").click()
    expect(other.get_by_role("status").first).to_contain_text(run[2].number)
    row = page.locator(f"#run-{run[2].number}")
    expect(row).to_contain_text(re.compile(r"Radiused by Ana, \d\d:\d\d"), timeout=SOON)
    assert row.evaluate("row => row.tagName") == "P", "it is pressed no more"
    assert page.evaluate(PLACES) == before
    expect(page.get_by_label("Thickness on the centreline")).to_have_value("6.1")
    expect(page.locator(f"#run-{run[3].number}")).to_have_attribute("href", re.compile("board="))


def test_the_board_in_hand_was_finished_by_somebody_else(open_browser: Open, run: list[Blank], ana: User) -> None:
    """The panel says so where room was kept, the button keeps its place and leads on, and sends nothing."""
    page = at_the_bench(open_browser, f"?board={run[1].number}")
    page.get_by_label("Thickness on the centreline").fill("6.1")
    before = page.evaluate(PLACES)
    finish(run[1], ana)
    look(page)
    expect(page.locator(".hand .news")).to_contain_text("Radiused by Ana", timeout=SOON)
    assert page.evaluate(PLACES) == before
    expect(page.get_by_label("Thickness on the centreline")).to_have_value("6.1")
    page.get_by_role("button", name="To the next board").click()
    expect(page.locator(".hand .number")).to_have_text(run[0].number)
    expect(page).to_have_url(re.compile(r"/benches/radiusing/$"))
    run[1].refresh_from_db()
    assert run[1].log.filter(kind="finished", stage="radiusing").count() == 1


def test_it_comes_back_when_it_is_taken_back(open_browser: Open, run: list[Blank], ana: User) -> None:
    page = at_the_bench(open_browser)
    before = page.evaluate(PLACES)
    finish(run[0], ana)
    look(page)
    row = page.locator(f"#run-{run[0].number}")
    expect(row).to_contain_text("Radiused by Ana", timeout=SOON)
    run[0].undo(make_hand(ana), run[0].version, run[0].last_undoable())
    look(page)
    expect(row).to_have_attribute("href", re.compile("board="), timeout=SOON)
    expect(page.get_by_role("button", name="Radiused, next board")).to_be_visible()
    assert page.evaluate(PLACES) == before


def test_nothing_changes_while_a_finger_is_down(open_browser: Open, run: list[Blank], ana: User) -> None:
    page = at_the_bench(open_browser)
    row = page.locator(f"#run-{run[2].number}")
    box = row.bounding_box()
    page.mouse.move(box["x"] + 20, box["y"] + 20)
    page.mouse.down()
    finish(run[2], ana)
    with page.expect_response(lambda answer: "/news/" in answer.url):
        look(page)
    page.wait_for_timeout(300)
    assert row.evaluate("row => row.tagName") == "A"
    page.mouse.move(box["x"] + 400, 5)  # let go elsewhere, so that nothing is pressed
    page.mouse.up()
    assert row.evaluate("row => row.tagName") == "A"
    expect(row).to_contain_text("Radiused by Ana", timeout=SOON)


def test_boards_that_come_are_told_of_and_shown_below(open_browser: Open, run: list[Blank], ana: User) -> None:
    page = at_the_bench(open_browser)
    before = page.evaluate(PLACES)
    hand = make_hand(ana)
    came = [make_blank(make_build(number, due_on=days_ago(9)), done=2, hand=hand) for number in ("B902", "B903")]
    look(page)
    button = page.get_by_role("button", name="2 boards came: show them")
    expect(button).to_be_visible(timeout=SOON)
    assert page.evaluate(PLACES) == before, "they are late and would go first, but nothing is put above"
    button.click()
    for blank in came:
        expect(page.locator(f"#run-{blank.number}")).to_be_visible()
    after = page.evaluate(PLACES)
    still = [f"run-{blank.number}" for blank in run] + ["go"]
    assert {name: after[name] for name in still} == {name: before[name] for name in still}
    expect(button).to_be_hidden()


def test_on_a_phone_the_page_stays_where_it_was(open_browser: Open, run: list[Blank], ana: User) -> None:
    page = at_the_bench(open_browser, width=390, height=844)
    page.locator(f"#run-{run[3].number}").scroll_into_view_if_needed()
    page.wait_for_timeout(1100)
    before, at = page.evaluate(PLACES), page.evaluate("() => scrollY")
    finish(run[0], ana)
    look(page)
    expect(page.locator(f"#run-{run[0].number}")).to_contain_text("Radiused by Ana", timeout=SOON)
    assert page.evaluate(PLACES) == before
    assert page.evaluate("() => scrollY") == at


def test_a_board_that_cannot_be_worked_out_is_no_news(open_browser: Open, run: list[Blank], ana: User) -> None:
    """It waits here without a row; one that comes is told of, and shown with what is wrong."""
    hand = make_hand(ana)
    new = [make_blank(make_build(number), done=2, hand=hand) for number in ("B902", "B903")][-1]
    too_round = {"radius_nut": 21, "radius_heel": 21}
    Build.objects.filter(number="B902").update(**too_round)
    new.hold(hand, new.version, "Not yet")
    page = at_the_bench(open_browser)
    with page.expect_response(lambda answer: "/news/" in answer.url):
        look(page)
    page.wait_for_timeout(300)
    expect(page.locator(".came button")).to_be_hidden()
    Build.objects.filter(number="B903").update(**too_round)
    new.release(hand, new.version)
    look(page)
    page.get_by_role("button", name="1 board came: show it").click(timeout=SOON)
    expect(page.locator(f"[data-waits={new.number}]")).to_contain_text("cannot be worked out")


def test_a_bench_where_all_is_done_hears_of_boards_too(open_browser: Open, ana: User) -> None:
    make_hand(make_user("maker", first_name="Bo"))
    page = at_the_bench(open_browser)
    expect(page.get_by_text("No board waits for radiusing.")).to_be_visible()
    blank = make_blank(make_build("B901"), done=2, hand=make_hand(ana))
    look(page)
    page.get_by_role("button", name="1 board came: show it").click(timeout=SOON)
    page.locator(f"#run-{blank.number}").click()
    expect(page.locator(".hand .number")).to_have_text(blank.number)
