"""Never a lost tap: what is pressed without the network waits in the browser, and counts once."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

import pytest
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, Page, expect

from boards.management.commands.check_log import troubles
from boards.models import Blank, Kind, LogEntry
from shop.models import User
from tests.browser.test_main_job import fill_in_readings
from tests.factories import make_blank, make_build, make_hand, make_user

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


def run_of_boards(user: User, how_many: int = RUN) -> list[Blank]:
    hand = make_hand(user)
    build = make_build("B901")
    return [make_blank(build, hand=hand) for _ in range(how_many)]


def test_a_run_with_the_network_gone_in_the_middle(tablet: Tablet) -> None:
    maker = make_user("maker", first_name="Ida", last_name="Bracken")
    boards = run_of_boards(maker)
    page = tablet(maker)
    page.goto(f"/benches/thicknessing/?board={boards[0].number}")
    for _ in range(2):
        number = in_hand(page)
        press_finish(page, "Thicknessed")
        expect(page.get_by_text(f"{number} is thicknessed")).to_be_visible()
        if page.locator("#hand[data-number]").count() == 0:
            page.goto(f"/benches/thicknessing/?board={boards[1].number}")
    fetched_ahead(page, RUN - 3)

    page.context.set_offline(True)
    away = []
    for _ in range(4):
        away.append(in_hand(page))
        press_finish(page, "Thicknessed")
        expect(page.locator("#hand")).not_to_have_attribute("data-number", away[-1])
        expect(page.locator(f"#run-{away[-1]}")).to_contain_text("Waiting to send")
    expect(page.locator("#outbox")).to_contain_text("4 waiting to send")
    assert len(finished("thicknessing")) == 2
    page.get_by_role("button", name="Look at them").click()
    expect(page.locator(".presses-kept li").first).to_contain_text(f"{away[0]}: Thicknessed")
    expect(page.locator(".presses-kept li").first).to_contain_text("Pressed by Ida Bracken")

    page.context.set_offline(False)
    expect(page.locator("#outbox")).to_be_hidden()
    assert finished("thicknessing")[2:] == away, "in the order in which they were pressed"
    while Blank.objects.ready_for("thicknessing").exists():
        left = Blank.objects.ready_for("thicknessing").count()
        press_finish(page, "Thicknessed")
        page.wait_for_function("() => !document.querySelector('form[data-sent]')")
        expect(page.locator("body")).to_contain_text("is thicknessed")
        assert Blank.objects.ready_for("thicknessing").count() == left - 1
    assert sorted(finished("thicknessing")) == [board.number for board in boards]
    the_log_agrees()
