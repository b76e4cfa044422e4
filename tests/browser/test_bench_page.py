"""The page of a bench as one stands before it: everything in hand on the first screen, large, and without a mouse."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Page, expect

from boards.models import Blank
from shop.models import Lengths, Shop, User
from tests.browser.conftest import Open
from tests.factories import good_readings, make_blank, make_build, make_former, make_hand, make_jig, make_user

TABLETS = [(1280, 800), (1024, 768)]


@pytest.fixture
def maker(transactional_db: None) -> User:
    return make_user("maker", first_name="Bo")


@pytest.fixture
def run(maker: User) -> list[Blank]:
    """Three boards for a jig on which nothing stands yet."""
    hand, shop = make_hand(maker), Shop.current()
    shop.jig = make_jig()
    make_former(shop.jig, "12", 304.8)
    shop.save()
    build = make_build("B901")
    return [make_blank(build, done=2, hand=hand) for _ in range(3)]


def in_hand(page: Page, number: str) -> None:
    expect(page.locator(".hand .number")).to_have_text(number)


@pytest.mark.parametrize("lengths", [Lengths.MM, Lengths.INCH_FRACTION])
@pytest.mark.parametrize(("width", "height"), TABLETS)
def test_what_the_board_needs_is_on_the_first_screen(
    open_browser: Open, maker: User, run: list[Blank], width: int, height: int, lengths: str
) -> None:
    """Figures, readings, keypad and button, after the message of the board before; nothing has to be scrolled for."""
    Shop.objects.update(lengths=lengths)
    page = open_browser(maker, width, height, has_touch=True)
    page.goto("/benches/radiusing/")
    page.get_by_role("button", name="It stands so, depth proved").click()
    in_hand(page, run[0].number)
    expect(page.locator(".messages")).to_be_visible()
    for what in (".in-hand", "[data-readings] .readings", ".keypad", ".hand .go.big"):
        box = page.locator(what).bounding_box()
        assert box["y"] >= 0 and box["y"] + box["height"] <= height, what
        assert box["x"] + box["width"] <= width, what


def test_the_figures_to_reach_are_the_largest(open_browser: Open, maker: User, run: list[Blank]) -> None:
    """44 px and more, the words of the drawings 18; what holds for all that is read is measured with axe-core."""
    page = open_browser(maker, *TABLETS[-1])
    size = "e => parseFloat(getComputedStyle(e).fontSize)"
    page.goto("/benches/radiusing/")
    heights = "all => all.map(e => e.getBoundingClientRect().height)"
    drawn = page.locator(".card svg text").evaluate_all(heights)
    assert min(drawn) >= 18
    assert page.locator(".proof .to").evaluate(size) >= 44
    page.goto(f"/benches/radiusing/?board={run[0].number}")
    for figure in (".target b", ".lies-at b", ".in-hand .number"):
        assert page.locator(figure).first.evaluate(size) >= 44
    assert page.locator(".standing dd").first.evaluate(size) >= 32


def test_a_run_with_the_keyboard_alone(open_browser: Open, maker: User, run: list[Blank]) -> None:
    """The skip link, the card's button, the readings one after another, the button, the next board; then the run."""
    page = open_browser(maker)
    keys = page.keyboard
    page.goto("/benches/radiusing/")
    keys.press("Tab")
    expect(page.get_by_role("link", name="Skip to the page")).to_be_focused()
    keys.press("Enter")
    go = page.get_by_role("button", name="It stands so, depth proved")
    for _ in range(3):
        keys.press("Tab")
        if go.evaluate("e => e === document.activeElement"):
            break
    expect(go).to_be_focused()
    assert go.evaluate("e => parseFloat(getComputedStyle(e).outlineWidth)") >= 3, "one sees where one is"
    keys.press("Enter")
    in_hand(page, run[0].number)
    readings = [str(value) for value in good_readings(run[0]).values()]
    expect(page.locator("[data-reading]").first).to_be_focused()
    for reading in readings:
        keys.type(reading)
        keys.press("Enter")
    expect(page.locator("[data-go]")).to_be_focused()
    page.wait_for_timeout(500)  # an Enter that follows at once is a caliper's
    keys.press("Enter")
    in_hand(page, run[1].number)
    run[0].refresh_from_db()
    assert run[0].next_stage == "tapering"
    page.locator(f"#run-{run[2].number}").focus()
    keys.press("Enter")
    in_hand(page, run[2].number)


def test_a_run_without_javascript(open_browser: Open, maker: User, run: list[Blank]) -> None:
    page = open_browser(maker, java_script_enabled=False)
    page.goto("/benches/radiusing/")
    page.get_by_role("button", name="It stands so, depth proved").click()
    in_hand(page, run[0].number)
    page.get_by_text("Something is wrong with it").click()
    page.get_by_role("button", name="Too thin").click()
    in_hand(page, run[1].number)
    for name, value in good_readings(run[1]).items():
        page.locator(f"[name={name}]").fill(str(value))
    page.get_by_role("button", name="Radiused, next board").click()
    in_hand(page, run[2].number)
    run[0].refresh_from_db()
    assert run[0].condition == "held"
    page.get_by_role("button", name="Make it dark").click()
    expect(page.locator("html")).to_have_attribute("data-ink", "dark")
    expect(page).to_have_url(re.compile(r"/benches/radiusing/$"))


def test_ink_that_was_chosen_goes_before_the_devices_own(open_browser: Open, maker: User, run: list[Blank]) -> None:
    ground = "() => getComputedStyle(document.body).backgroundColor"
    page = open_browser(maker, color_scheme="dark")
    page.goto("/benches/radiusing/")
    dark = page.evaluate(ground)
    page.get_by_role("button", name="Make it light").click()
    light = page.evaluate(ground)
    assert light != dark
    page.get_by_role("button", name="As the device is set").click()
    assert page.evaluate(ground) == dark
