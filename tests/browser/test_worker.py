"""The service worker, which pages start where they come by https; here it is started by hand, on localhost."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from shop.models import User
from tests.browser.test_outbox import sign_in
from tests.factories import make_blank, make_build, make_user

START = """async () => {
    await navigator.serviceWorker.register("/sw.js");
    await navigator.serviceWorker.ready;
    if (!navigator.serviceWorker.controller) {
        await new Promise(resolve => navigator.serviceWorker.addEventListener("controllerchange", resolve));
    }
}"""


@pytest.fixture
def maker(transactional_db: None) -> User:
    return make_user("maker")


@pytest.fixture
def page(chromium: Browser, live_server, maker: User) -> Iterator[Page]:
    context = chromium.new_context(base_url=live_server.url.replace("127.0.0.1", "localhost"), locale="en-GB")
    sign_in(context, maker, live_server.url.replace("127.0.0.1", "localhost"))
    yield context.new_page()
    context.close()


def kept(page: Page) -> list[str]:
    urls = page.evaluate("caches.open('camberbook-pages').then(c => c.keys()).then(all => all.map(r => r.url))")
    return sorted(re.sub(r"^https?://[^/]+", "", url) for url in urls)


def test_a_page_opens_again_without_the_network_and_says_from_when_it_is(page: Page, settings, maker: User) -> None:
    settings.HTTPS = True
    blank = make_blank(make_build())
    page.goto("/rack/")
    page.evaluate(START)
    for address in (f"/blanks/{blank.number}/", "/find/?q=nothing", "/rack/"):
        page.goto(address)
        page.wait_for_load_state("networkidle")
    assert kept(page) == [f"/blanks/{blank.number}/", "/rack/"], "nothing of what was looked for"

    page.context.set_offline(True)
    page.goto(f"/blanks/{blank.number}/")
    expect(page.locator(".from-before")).to_contain_text("No contact with the shop's machine. This page is from")
    expect(page.get_by_role("button", name="Thicknessed")).to_be_visible()
    page.context.set_offline(False)
    page.reload()
    expect(page.locator(".from-before")).to_have_count(0)

    page.get_by_role("button", name="Sign out").click()
    expect(page).to_have_url(re.compile("/sign-in/"))
    expect(page.get_by_label("Your name")).to_be_visible()
    assert kept(page) == [], "nothing is left for the next"


def test_without_https_it_goes_away_by_itself(page: Page, settings) -> None:
    settings.HTTPS = True
    page.goto("/rack/")
    page.evaluate(START)
    settings.HTTPS = False
    page.evaluate("navigator.serviceWorker.getRegistration().then(one => one.update())")
    for _ in range(100):
        page.goto("/rack/")
        if page.evaluate("navigator.serviceWorker.getRegistration().then(one => one === undefined)"):
            return
        page.wait_for_timeout(100)
    pytest.fail("the worker is still there")
