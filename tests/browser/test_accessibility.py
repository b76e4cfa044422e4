"""Every page by axe-core at WCAG 2.2 AA, with the contrast of AAA; and what the benches promise besides."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from playwright.sync_api import Page

from shop.models import User
from tests.browser.conftest import Open
from tests.browser.test_screens import at_the_benches, pages_of_the_demo
from tests.shop.test_pages import ALL

LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
SEVEN_TO_ONE = "color-contrast-enhanced"  # WCAG 2.2, success criterion 1.4.6
# Off by itself in axe-core; WCAG 2.2, success criterion 2.5.8, asks for 24 px. The 44 px are measured in test_screens.
TARGET_SIZE = "target-size"

AT_LEAST = {"body": 18, "figure": 32, "target": 48}  # CSS px

SMALL_TEXT = """least => [...document.querySelectorAll('main *')]
    .filter(e => e.checkVisibility({visibilityProperty: true}) && !e.closest('svg, .unseen') &&
        [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim()))
    .filter(e => parseFloat(getComputedStyle(e).fontSize) < least - 0.01)
    .map(e => getComputedStyle(e).fontSize + ' ' + e.textContent.trim().slice(0, 40))"""

SMALL_FIGURES = """least => [...document.querySelectorAll(
    'main :is(.figures dd, .target b, .standing div:not(.wide) dd, .to, .lies-at b)')]
    .filter(e => e.checkVisibility({visibilityProperty: true}) && /\\d/.test(e.textContent))
    .filter(e => parseFloat(getComputedStyle(e).fontSize) < least - 0.01)
    .map(e => getComputedStyle(e).fontSize + ' ' + e.textContent.trim().slice(0, 40))"""

SMALL_TARGETS = """least => [...document.querySelectorAll(
    'main button, main a.button, main summary, main label.tick, main .run a, main select, ' +
    'main .field input:not([type=hidden])')]
    .filter(e => e.checkVisibility({visibilityProperty: true}))
    .map(e => [e, (e.closest('label') || e).getBoundingClientRect()])
    .filter(([e, box]) => box.height < least - 0.01 || box.width < least - 0.01)
    .map(([e, box]) => box.width + ' x ' + box.height + ' ' + (e.textContent.trim().slice(0, 40) || e.name))"""


def pages_of_their_own() -> list[str]:
    """One address of every page: of each kind in the demo, and of those that no part of an address leads to."""
    client = Client()
    client.force_login(User.objects.get(is_superuser=True))
    found = pages_of_the_demo()
    for _, name, address in ALL:
        if address in found or address.endswith((".pdf", ".svg", ".dxf")) or name == "sign-out":
            continue
        answer = client.get(address)
        if answer.status_code == 200 and b"<html" in b"".join(answer)[:200]:
            found.append(address)
    return found


def faults(page: Page, address: str, rules: dict) -> list[str]:
    """Go to a page and say what axe-core finds there."""
    page.goto(address)
    page.evaluate("() => document.querySelectorAll('details').forEach(each => each.open = true)")
    found = Axe().run(page, options=rules).response["violations"]
    return [
        f"{address} {fault['id']}: {fault['help']}: {' / '.join(node['html'][:160] for node in fault['nodes'][:3])}"
        for fault in found
    ]


EVERY_RULE = {
    "runOnly": {"type": "tag", "values": LEVELS},
    "rules": {SEVEN_TO_ONE: {"enabled": True}, TARGET_SIZE: {"enabled": True}},
}
CONTRAST_ALONE = {"runOnly": {"type": "rule", "values": [SEVEN_TO_ONE]}}


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_any_page(open_browser: Open, demo_owner: User, scheme: str) -> None:
    # What changes with the ink is the contrast; all else was looked at in the light.
    rules = EVERY_RULE if scheme == "light" else CONTRAST_ALONE
    page = open_browser(demo_owner, color_scheme=scheme)
    wrong = [fault for address in pages_of_their_own() for fault in faults(page, address, rules)]
    assert not wrong, "\n".join(wrong)


def test_axe_finds_nothing_before_anybody_has_signed_in(open_browser: Open, demo_owner: User) -> None:
    page = open_browser(None)
    assert faults(page, "/sign-in/", EVERY_RULE) == []


def test_axe_finds_nothing_on_a_phone_at_the_benches_and_where_drawings_are_moved_sideways(
    open_browser: Open, demo_owner: User
) -> None:
    page = open_browser(demo_owner, 390, 844, has_touch=True)
    drawn = ["/air/", "/builds/B003/", "/blanks/F0023/"]
    wrong = [fault for address in [*at_the_benches(), *drawn] for fault in faults(page, address, EVERY_RULE)]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("screen", [(1280, 800), (1024, 768), (390, 844)])
def test_benches_are_read_and_pressed_at_arm_s_length(
    open_browser: Open, demo_owner: User, screen: tuple[int, int]
) -> None:
    page = open_browser(demo_owner, *screen, has_touch=True)
    wrong = []
    for address in at_the_benches():
        page.goto(address)
        page.evaluate("() => document.querySelectorAll('details').forEach(each => each.open = true)")
        for what, script in (("body", SMALL_TEXT), ("figure", SMALL_FIGURES), ("target", SMALL_TARGETS)):
            wrong += [f"{address}: {what} {each}" for each in page.evaluate(script, AT_LEAST[what])]
    assert not wrong, "\n".join(wrong)
