"""An enrolled tablet in a real browser: the keypad, the name list after a while, and all of it without JavaScript."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from shop.models import Tablet, User

pytestmark = pytest.mark.django_db(transaction=True)

DIGITS = "4071"


def enrol(page: Page, owner: User) -> None:
    """As the owner does it on the tablet itself."""
    page.goto("/people/tablets/")
    page.get_by_label("What the tablet is called").fill("At the jig")
    page.get_by_role("button", name="Enrol this device").click()
    expect(page.get_by_text("This device is now At the jig")).to_be_visible()
    page.get_by_role("button", name="Sign out").click()


@pytest.mark.parametrize("scripts", [True, False], ids=["with scripts", "without"])
def test_pick_a_name_type_a_pin_and_give_way(open_browser, demo_owner: User, scripts: bool) -> None:
    osk = User.objects.get(username="osk")
    osk.set_pin(DIGITS)
    osk.save()
    page = open_browser(demo_owner, 1024, 768, java_script_enabled=scripts)
    if scripts:
        page.clock.install()
    enrol(page, demo_owner)
    page.goto("/rack/")
    name = page.get_by_role("link", name="Osk Varley")
    assert name.bounding_box()["height"] >= 72, "a large target"
    name.click()
    if scripts:
        for digit in DIGITS:
            key = page.get_by_role("button", name=digit, exact=True)
            assert min(key.bounding_box()["height"], key.bounding_box()["width"]) >= 72
            key.click()
    else:
        expect(page.locator("[data-pin-keys]")).to_be_hidden()
        page.locator("input[name=pin]").fill(DIGITS)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page).to_have_url("/rack/")
    if scripts:
        page.clock.fast_forward((Tablet.objects.get().idle_minutes * 60 + 10) * 1000)
    else:
        page.get_by_role("button", name="Not you?").click()
    expect(page.get_by_role("heading", name="Who is it?")).to_be_visible()
    assert page.url.endswith("?next=%2Frack%2F")
