"""A real browser on a real server. Where there is none these tests are skipped; in CI a skipped test has failed."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random

import pytest
from django.db import connection
from django.test import Client
from django.utils import timezone
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, Request, sync_playwright

from boards import demo
from shop.models import User

FLAGS = [
    *("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync"),
]
HERE = Path(__file__).parent

Open = Callable[..., Page]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if HERE in item.path.parents:
            item.add_marker(pytest.mark.browser)
            # The server answers from a thread of its own, so what a test writes must be in the database for good; and
            # what migrations put in must be there again for the next test.
            item.add_marker(pytest.mark.django_db(transaction=True, serialized_rollback=True))


@pytest.fixture(scope="package")
def chromium(django_db_setup: None) -> Iterator[Browser]:
    path = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if path is None:
        pytest.skip("There is no Chromium on this machine: install the package chromium to run the browser tests.")
    to_put_back = connection._test_serialized_contents
    with pytest.MonkeyPatch.context() as patch, sync_playwright() as playwright:
        # Playwright keeps a loop running in this thread, in which Django would not let us ask the database, and in
        # which its connection is another one: it is told what migrations had put in.
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        connection._test_serialized_contents = to_put_back
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield browser
        browser.close()
        connection.close()


def _is_trouble(message: ConsoleMessage) -> bool:
    """Tell whether the console complains; a page that breaks its own content security policy says so there.

    That an answer was a refusal (422 and the like) is told there as well, and is no trouble.
    """
    return message.type == "error" and not re.search(r"responded with a status of 4", message.text)


def _is_lost(request: Request) -> bool:
    """Tell whether an answer never came; one that the page no longer wanted, as it asked anew, is not lost."""
    return request.failure != "net::ERR_ABORTED"


@pytest.fixture
def open_browser(chromium: Browser, live_server: object) -> Iterator[Open]:
    """Open a window, signed in where a user is given; at the end nothing may have gone wrong in any of them."""
    contexts: list[BrowserContext] = []
    troubles: list[str] = []

    def open_window(user: User | None = None, width: int = 1280, height: int = 800, **more: object) -> Page:
        context = chromium.new_context(
            base_url=live_server.url, viewport={"width": width, "height": height}, locale="en-GB", **more
        )
        contexts.append(context)
        if user is not None:
            client = Client()
            client.force_login(user)
            cookie = client.cookies["sessionid"]
            context.add_cookies([{"name": "sessionid", "value": cookie.value, "url": live_server.url}])
        page = context.new_page()
        page.set_default_timeout(15_000)
        page.on("console", lambda message: _is_trouble(message) and troubles.append(f"{page.url}: {message.text}"))
        page.on("pageerror", lambda error: troubles.append(f"{page.url}: {error}"))
        page.on("requestfailed", lambda request: _is_lost(request) and troubles.append(f"{request.url}: lost"))
        return page

    yield open_window
    for context in contexts:
        context.close()
    assert not troubles, "\n".join(troubles)


@pytest.fixture
def demo_owner(transactional_db: None) -> User:
    """The demo's shop, with the account that it is shown with."""
    User.objects.all().delete()
    demo.load(now=timezone.now(), random=Random(5))
    return User.objects.get(is_superuser=True)
