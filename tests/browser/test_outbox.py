"""Never a lost tap: what is pressed without the network waits in the browser, and counts once."""

from __future__ import annotations

import errno
import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from playwright.sync_api import Browser, BrowserContext, Locator, Page, Route, expect

from boards.management.commands.check_log import troubles
from boards.models import Blank, Kind, LogEntry
from shop.models import User
from tests.browser.conftest import FLAGS
from tests.browser.test_accessibility import AT_LEAST, EVERY_RULE
from tests.browser.test_main_job import fill_in_readings
from tests.factories import good_readings, make_blank, make_build, make_hand, make_user

RUN = 8
Tablet = Callable[..., Page]


def sign_in(context: BrowserContext, user: User, url: str) -> None:
    client = Client()
    client.force_login(user)
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": url}])


@pytest.fixture
def tablet(chromium: Browser, live_server: object) -> Iterator[Tablet]:
    """A tablet on which somebody is signed in, with a network that the test may take away."""
    contexts: list[BrowserContext] = []
    wrong: list[str] = []

    def take(user: User, width: int = 1280, height: int = 800) -> Page:
        context = chromium.new_context(
            base_url=live_server.url, viewport={"width": width, "height": height}, locale="en-GB"
        )
        contexts.append(context)
        sign_in(context, user, live_server.url)
        page = context.new_page()
        page.set_default_timeout(15_000)
        page.on("pageerror", lambda error: wrong.append(f"{page.url}: {error}"))
        return page

    yield take
    for context in contexts:
        context.close()
    assert not wrong, "\n".join(wrong)


def chromium_path() -> str:
    return next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))))


def waiting(page: Page) -> int:
    return len(presses(page))


def presses(page: Page) -> list[dict]:
    return page.evaluate("window.camberbook.store.all()")


def fetched_ahead(page: Page, how_many: int) -> None:
    for _ in range(100):
        if len(page.evaluate("window.camberbook.store.pages.all()")) >= how_many:
            return
        page.wait_for_timeout(100)
    pytest.fail("the pages of the next boards were not fetched")


def press_finish(page: Page, done: str) -> None:
    fill_in_readings(page)
    page.get_by_role("button", name=re.compile(f"^{done}")).click()


def in_hand(page: Page) -> str:
    return page.locator("#hand").get_attribute("data-number")


def finished(stage: str) -> list[str]:
    entries = LogEntry.objects.filter(kind=Kind.FINISHED, stage=stage).order_by("at", "pk")
    return list(entries.values_list("blank__number", flat=True))


def the_log_agrees() -> None:
    assert [list(troubles(blank)) for blank in Blank.objects.all()] == [[]] * Blank.objects.count()


@pytest.fixture
def maker(transactional_db: None) -> User:
    return make_user("maker", first_name="Ida", last_name="Bracken")


@pytest.fixture
def other(transactional_db: None) -> User:
    return make_user("other", first_name="Nell", last_name="Harrow")


def run_of_boards(user: User, how_many: int = RUN) -> list[Blank]:
    hand = make_hand(user)
    build = make_build("B901")
    return [make_blank(build, hand=hand) for _ in range(how_many)]


def test_a_run_of_eight_with_the_network_gone_a_board_that_is_bad_and_one_that_somebody_else_did(
    tablet: Tablet, maker: User, other: User
) -> None:
    boards = run_of_boards(maker)
    page = tablet(maker)
    page.goto(f"/benches/thicknessing/?board={boards[0].number}")
    for _ in range(2):
        number = in_hand(page)
        press_finish(page, "Thicknessed")
        expect(page.get_by_text(f"{number} is thicknessed")).to_be_visible()
        if page.locator("#hand[data-number]").count() == 0:  # it asks for the setup first
            page.goto(f"/benches/thicknessing/?board={boards[1].number}")
    fetched_ahead(page, RUN - 3)

    page.context.set_offline(True)
    away: list[str] = []

    def has_to_wait() -> None:
        expect(page.locator("#hand")).not_to_have_attribute("data-number", away[-1])
        expect(page.locator(f"#run-{away[-1]}")).to_contain_text("Waiting to send")

    for place in range(4):
        away.append(in_hand(page))
        if place == 1:
            page.get_by_text("Something is wrong with it").click()
            page.locator("#hand [name=hold-reason]").first.click()
        else:
            press_finish(page, "Thicknessed")
        has_to_wait()
    expect(page.locator("#outbox")).to_contain_text("4 waiting to send")
    assert len(finished("thicknessing")) == 2
    rows = list_of(page)
    expect(rows.nth(0)).to_contain_text(f"{away[0]}: Thicknessed")
    expect(rows.nth(0)).to_contain_text("Pressed by Ida Bracken")
    expect(rows.nth(1)).to_contain_text(f"{away[1]}: Held")
    lost = Blank.objects.get(number=away[2])
    lost.finish(make_hand(other), lost.version, "thicknessing", good_readings(lost))

    page.context.set_offline(False)
    expect(page.locator("#outbox")).to_contain_text("1 was not done: decide about it.")
    expect(page.locator("#outbox")).not_to_contain_text("waiting")
    assert finished("thicknessing")[2:] == [away[2], away[0], away[3]], "in the order in which they were pressed"
    assert Blank.objects.get(number=away[1]).condition == "held"
    page.get_by_role("button", name="Look at it, send it again").click()
    expect(page.get_by_text(f"Nell Harrow has changed {lost.number} since you saw it: thicknessed.")).to_be_visible()
    page.get_by_role("link", name=f"Look at {lost.number} as it is now").click()
    expect(page).to_have_url(re.compile(f"/blanks/{lost.number}/$"))
    expect(page.locator("#outbox")).to_be_hidden()

    page.goto(f"/benches/thicknessing/?board={boards[-2].number}")
    press_finish(page, "Thicknessed")
    expect(page.get_by_text(f"{boards[-2].number} is thicknessed")).to_be_visible()
    page.goto(f"/benches/thicknessing/?board={boards[-1].number}")
    press_finish(page, "Thicknessed")
    expect(page.get_by_text(f"{boards[-1].number} is thicknessed")).to_be_visible()
    assert sorted(finished("thicknessing")) == [board.number for board in boards if board.number != away[1]]
    assert {entry.by for entry in LogEntry.objects.filter(blank=lost, kind=Kind.FINISHED)} == {other}
    the_log_agrees()


def finish_away(page: Page, blank: Blank) -> None:
    """Finish a stage on the blank's own page, with the network gone."""
    page.goto(f"/blanks/{blank.number}/")
    page.context.set_offline(True)
    press_finish(page, "Thicknessed")
    expect(page.locator(".waits")).to_be_visible()


def list_of(page: Page) -> Locator:
    button = page.locator("#outbox button[data-does=list]")
    if button.get_attribute("aria-expanded") == "false":
        button.click()
    return page.locator(".presses-kept li")


def test_what_somebody_else_did_first_is_shown_beside_what_was_typed(tablet: Tablet, maker: User, other: User) -> None:
    (board,) = run_of_boards(maker, 1)
    page = tablet(maker)
    page.goto(f"/blanks/{board.number}/")
    board.hold(make_hand(other), board.version, "A shake at the heel")
    board.release(make_hand(other), board.version)
    press_finish(page, "Thicknessed")
    expect(page.get_by_role("heading", level=1)).to_have_text("That was not done")
    expect(page.get_by_text("A shake at the heel")).to_be_visible()
    expect(page.get_by_text("Thickness, head end")).to_be_visible()
    page.goto("/rack/")
    expect(page.locator("#outbox")).to_contain_text("1 was not done")
    page.reload()
    expect(page.locator("#outbox")).to_contain_text("1 was not done")
    list_of(page).get_by_role("button", name="Look at it, send it again").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("This is not sent yet")
    assert finished("thicknessing") == []
    page.get_by_role("button", name="Send mine on top of that").click()
    expect(page.get_by_text(f"{board.number} is thicknessed")).to_be_visible()
    expect(page.locator("#outbox")).to_be_hidden()
    assert finished("thicknessing") == [board.number]
    the_log_agrees()


def test_a_refused_press_stays_until_somebody_drops_it_and_other_boards_go_on(
    tablet: Tablet, maker: User, other: User
) -> None:
    first, second = run_of_boards(maker, 2)
    page = tablet(maker)
    page.goto(f"/benches/thicknessing/?board={first.number}")
    fetched_ahead(page, 1)
    page.context.set_offline(True)
    for board in (first, second):
        expect(page.locator("#hand")).to_have_attribute("data-number", board.number)
        press_finish(page, "Thicknessed")
    expect(page.locator("#outbox")).to_contain_text("2 waiting to send")
    first.hold(make_hand(other), first.version, "A shake")
    page.context.set_offline(False)
    expect(page.locator("#outbox")).to_contain_text("1 was not done: decide about it")
    assert finished("thicknessing") == [second.number]
    page.goto("/")
    row = list_of(page)
    expect(row).to_contain_text(f"Nell Harrow has changed {first.number} since you saw it: held.")
    page.get_by_role("button", name="Drop it").click()
    page.get_by_role("button", name="Keep it").click()
    page.get_by_role("button", name="Drop it").click()
    page.locator(".stop-button", has_text="Drop it").click()
    expect(page.locator("#outbox")).to_be_hidden()
    assert finished("thicknessing") == [second.number]


def test_a_second_press_on_the_same_blank_is_held_back(tablet: Tablet, maker: User) -> None:
    (board,) = run_of_boards(maker, 1)
    page = tablet(maker)
    finish_away(page, board)
    page.get_by_text("Hold it", exact=True).first.click()
    page.get_by_label("Reason").first.fill("On second thoughts")
    page.get_by_role("button", name="Hold it").click()
    expect(page.locator("#banner")).to_contain_text(f"{board.number}: Thicknessed waits to be sent. It goes first.")
    expect(page.get_by_label("Reason").first).to_have_value("On second thoughts")
    assert waiting(page) == 1
    page.context.set_offline(False)
    expect(page.get_by_text("It is sent.")).to_be_visible()
    page.get_by_role("link", name="Go on").click()
    expect(page.locator("main")).to_contain_text("Thicknessed")
    the_log_agrees()


def test_two_tabs_send_it_once(tablet: Tablet, maker: User) -> None:
    boards = run_of_boards(maker, 3)
    page = tablet(maker)
    tabs = [page, page.context.new_page()]
    posted: list[str] = []
    page.context.on("request", lambda request: request.method == "POST" and posted.append(request.url))
    for tab, board in zip(tabs, boards[:2], strict=True):
        tab.goto(f"/blanks/{board.number}/")
    page.context.set_offline(True)
    for tab in tabs:
        press_finish(tab, "Thicknessed")
        expect(tab.locator(".waits")).to_be_visible()
    for tab in tabs:
        expect(tab.locator("#outbox")).to_contain_text("2 waiting to send")
    posted.clear()
    page.context.set_offline(False)
    for tab in tabs:
        expect(tab.locator("#outbox")).to_be_hidden()
    assert len(posted) == 2, posted
    assert finished("thicknessing") == [board.number for board in boards[:2]]


def test_it_is_never_sent_under_another_name(tablet: Tablet, live_server, maker: User, other: User) -> None:
    (board,) = run_of_boards(maker, 1)
    page = tablet(maker)
    finish_away(page, board)
    page.context.clear_cookies()
    sign_in(page.context, other, live_server.url)
    page.context.set_offline(False)
    page.goto("/rack/")
    expect(page.locator("#outbox")).to_contain_text("1 waits for Ida Bracken to sign in.")
    page.wait_for_timeout(2500)  # longer than between two tries
    assert waiting(page) == 1 and finished("thicknessing") == []

    page.context.clear_cookies()
    page.goto("/rack/")
    expect(page.locator("#outbox")).to_contain_text("1 waits for Ida Bracken to sign in here.")
    page.get_by_label("Your name").fill("maker")
    page.get_by_label("Password").fill("a-long-enough-one")
    page.get_by_role("button", name="Sign in").click()
    for _ in range(50):  # the page that comes has yet to send it
        page.wait_for_timeout(200)
        if finished("thicknessing"):
            break
    assert LogEntry.objects.get(kind=Kind.FINISHED).by == maker
    expect(page.locator("#outbox")).to_be_hidden()


def test_a_session_that_has_ended_loses_nothing(tablet: Tablet, maker: User) -> None:
    (board,) = run_of_boards(maker, 1)
    page = tablet(maker)
    page.goto(f"/blanks/{board.number}/")
    page.context.clear_cookies(name="sessionid")
    press_finish(page, "Thicknessed")
    expect(page.locator("#outbox")).to_contain_text("1 waiting to send. You are signed out.")
    page.locator("#outbox").get_by_role("link", name="Sign in").click()
    page.get_by_label("Your name").fill("maker")
    page.get_by_label("Password").fill("a-long-enough-one")
    page.get_by_role("button", name="Sign in").click()
    expect(page).to_have_url(re.compile(f"/blanks/{board.number}/$"))
    expect(page.locator("#outbox")).to_be_hidden()
    assert finished("thicknessing") == [board.number]


def test_it_outlives_the_browser(chromium: Browser, live_server, maker: User, tmp_path: Path) -> None:
    (board,) = run_of_boards(maker, 1)
    kept = {"executable_path": chromium_path(), "args": FLAGS, "base_url": live_server.url}
    context = chromium.browser_type.launch_persistent_context(tmp_path, **kept)
    sign_in(context, maker, live_server.url)
    finish_away(context.pages[0], board)
    context.close()
    context = chromium.browser_type.launch_persistent_context(tmp_path, **kept)
    sign_in(context, maker, live_server.url)
    page = context.pages[0]
    page.goto("/rack/")
    expect(page.locator("#outbox")).to_be_hidden()
    assert waiting(page) == 0 and finished("thicknessing") == [board.number]
    context.close()


def test_a_browser_that_keeps_nothing_leaves_the_form_filled(tablet: Tablet, maker: User) -> None:
    (board,) = run_of_boards(maker, 1)
    page = tablet(maker)
    page.add_init_script("Object.defineProperty(window, 'indexedDB', {value: undefined})")
    page.goto(f"/blanks/{board.number}/")
    page.context.set_offline(True)
    press_finish(page, "Thicknessed")
    expect(page.locator("#banner")).to_contain_text("this browser keeps nothing by itself")
    expect(page.locator("[data-reading]").first).not_to_have_value("")
    page.context.set_offline(False)
    page.get_by_role("button", name="Thicknessed").click()
    expect(page.get_by_text(f"{board.number} is thicknessed")).to_be_visible()


def test_a_page_of_some_other_machine_is_no_answer(tablet: Tablet, maker: User) -> None:
    """A hot spot that answers everything with its own page, status 200 (RFC 8952 calls it a captive portal)."""
    (board,) = run_of_boards(maker, 1)
    page = tablet(maker)
    page.goto(f"/blanks/{board.number}/")
    page.route(re.compile("/(outbox|finish)/"), lambda route: route.fulfill(status=200, body="<h1>Welcome</h1>"))
    press_finish(page, "Thicknessed")
    expect(page.locator(".waits")).to_be_visible()
    assert waiting(page) == 1 and finished("thicknessing") == []
    page.unroute_all()
    expect(page.get_by_text("It is sent.")).to_be_visible()
    assert finished("thicknessing") == [board.number]


def test_a_machine_that_is_busy_or_full_keeps_no_press_from_being_sent_later(
    tablet: Tablet, maker: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The shop's machine says 503 with its words, for a disk that is full and the like: the press waits here."""
    (board,) = run_of_boards(maker, 1)
    page = tablet(maker)
    page.goto(f"/blanks/{board.number}/")
    statuses: list[int] = []
    page.on("response", lambda answer: "/finish/" in answer.url and statuses.append(answer.status))

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(Blank, "finish", full)
        press_finish(page, "Thicknessed")
        expect(page.locator(".waits")).to_be_visible()
        assert waiting(page) == 1 and finished("thicknessing") == []
    assert set(statuses) == {503}
    expect(page.get_by_text("It is sent.")).to_be_visible()
    assert finished("thicknessing") == [board.number]


def test_an_answer_that_is_lost_on_its_way_is_asked_for_again(tablet: Tablet, maker: User) -> None:
    (board,) = run_of_boards(maker, 1)
    page = tablet(maker)
    page.goto(f"/blanks/{board.number}/")
    lost = []

    def lose(route: Route) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch(max_redirects=0).headers["tap-outcome"])
        route.abort("connectionreset")

    page.route(re.compile("/finish/"), lose)
    press_finish(page, "Thicknessed")
    expect(page.get_by_text("It is sent.")).to_be_visible()
    assert lost == ["done"] and finished("thicknessing") == [board.number]


def test_an_open_page_is_not_left_for_one_that_cannot_be_fetched(tablet: Tablet, maker: User) -> None:
    (board,) = run_of_boards(maker, 1)
    page = tablet(maker)
    page.goto(f"/blanks/{board.number}/")
    page.context.set_offline(True)
    page.get_by_role("link", name="Rack", exact=True).click()
    expect(page.locator("#banner")).to_contain_text("this one stays")
    page.get_by_label("Number of a blank or a build").fill("F0001")
    page.get_by_role("button", name="Find").click()
    expect(page).to_have_url(re.compile(f"/blanks/{board.number}/$"))
    page.context.set_offline(False)
    page.get_by_role("link", name="Rack", exact=True).click()
    expect(page).to_have_url(re.compile("/rack/$"))


def test_what_has_to_be_confirmed_is_asked_and_leaves_nothing_behind(tablet: Tablet, maker: User) -> None:
    (board,) = run_of_boards(maker, 1)
    page = tablet(maker)
    page.goto(f"/blanks/{board.number}/")
    page.get_by_role("button", name="Thicknessed").click()
    page.get_by_label(re.compile("^Not measured")).check()
    expect(page.locator("#outbox")).to_be_hidden()
    page.get_by_role("button", name="Thicknessed").click()
    expect(page.get_by_text(f"{board.number} is thicknessed")).to_be_visible()
    assert waiting(page) == 0 and finished("thicknessing") == [board.number]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_in_the_list_and_on_the_page_of_both_versions(
    tablet: Tablet, maker: User, other: User, scheme: str
) -> None:
    first, second = run_of_boards(maker, 2)
    page = tablet(maker)
    page.emulate_media(color_scheme=scheme)
    page.goto(f"/blanks/{first.number}/")
    first.hold(make_hand(other), first.version, "A shake")
    press_finish(page, "Thicknessed")
    expect(page.get_by_role("heading", level=1)).to_have_text("That was not done")
    assert Axe().run(page, options=EVERY_RULE).response["violations"] == []
    finish_away(page, second)
    expect(page.locator("#outbox")).to_contain_text("1 waiting to send. 1 was not done")
    expect(list_of(page)).to_have_count(2)
    for button in page.locator("#outbox button").all():
        assert button.bounding_box()["height"] >= AT_LEAST["target"]
    assert Axe().run(page, options=EVERY_RULE).response["violations"] == []
