"""Readings in a real browser: a caliper that types, the keypad, the keyboard alone, and no script at all."""

from __future__ import annotations

from decimal import Decimal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from boards.models import Blank
from boards.readings import Target
from geometry.errors import LengthError
from geometry.units import LengthStyle, Unit, parse_length
from shop.models import Shop, User
from tests.browser.conftest import Open
from tests.browser.test_accessibility import EVERY_RULE
from tests.factories import good_readings, make_blank, make_build, make_pattern

TOUCH = {"has_touch": True, "is_mobile": True}
# Two keys in one go, however slow the machine is: whether the first went to the button, and the second did nothing.
TWO_ENTERS = """() => {
  const enter = () => !document.activeElement.dispatchEvent(
    new KeyboardEvent("keydown", { key: "Enter", bubbles: true, cancelable: true }));
  enter();
  return [document.activeElement.hasAttribute("data-go"), enter()];
}"""
ORDER = ("head_treble", "head_bass", "heel_treble", "heel_bass", "centre")


@pytest.fixture
def board(transactional_db: None, maker: User) -> Blank:
    return make_blank(make_build(), done=2)


def at_the_bench(page: Page, board: Blank) -> dict[str, str]:
    """Open the bench with a board in hand; give readings that are in."""
    page.goto(f"/benches/radiusing/?board={board.number}")
    return {name: str(value) for name, value in good_readings(board).items()}


def faults_here(page: Page) -> list[str]:
    """What axe-core finds on the page as it stands."""
    found = Axe().run(page, options=EVERY_RULE).response["violations"]
    return [f"{fault['id']}: {fault['nodes'][0]['html'][:160]}" for fault in found]


def box(page: Page, name: str):
    return page.locator(f"input[name={name}]")


def beside(page: Page, name: str):
    return page.locator(f"output[for=id_{name}]")


def test_a_caliper_goes_from_box_to_box_and_sends_nothing_by_itself(
    open_browser: Open, board: Blank, maker: User
) -> None:
    """It types a reading and Enter, some send Enter twice; only a person's next Enter says that the board is done."""
    page = open_browser(maker)
    good = at_the_bench(page, board)
    for name, sent in zip(ORDER, ("+{}mm", "{}", "{} mm", "+000{}", "{}"), strict=True):
        expect(box(page, name)).to_be_focused()
        page.keyboard.type(sent.format(good[name]))
        if name != ORDER[-1]:
            page.keyboard.press("Enter")
            expect(beside(page, name)).to_have_text("in, to size")
    assert page.evaluate(TWO_ENTERS) == [True, True]
    button = page.get_by_role("button", name="Radiused, next board")
    expect(button).to_be_focused()
    expect(beside(page, "centre")).to_have_text("in, to size")
    assert board.log.count() == 4
    page.wait_for_timeout(600)
    page.keyboard.press("Enter")
    expect(page.get_by_text(f"{board.number} is radiused.")).to_be_visible()
    board.refresh_from_db()
    assert board.done[-1] == "radiusing" and len(board.log.last().readings) == 5


def test_a_caliper_types_while_no_box_is_chosen(open_browser: Open, board: Blank, maker: User) -> None:
    page = open_browser(maker)
    good = at_the_bench(page, board)
    page.evaluate("document.activeElement.blur()")
    page.keyboard.type(good["head_treble"])
    page.keyboard.press("Enter")
    expect(box(page, "head_treble")).to_have_value(good["head_treble"])
    expect(box(page, "head_bass")).to_be_focused()
    # On a link, Enter would lead away, and on the button it would finish the board.
    here = page.url
    page.get_by_role("link", name=board.number, exact=True).first.focus()
    page.keyboard.type(good["head_bass"].replace(".", ","))
    page.keyboard.press("Enter")
    expect(box(page, "head_bass")).to_have_value(good["head_bass"].replace(".", ","))
    for name in ORDER[2:]:
        box(page, name).fill(good[name])
    page.get_by_role("button", name="Radiused, next board").focus()
    page.keyboard.type("6.93")
    page.keyboard.press("Enter")
    expect(page.get_by_text("6.93 was not taken: every box is filled.")).to_be_visible()
    assert page.url == here and board.log.count() == 4


def test_nothing_but_readings_is_taken(open_browser: Open, board: Blank, maker: User) -> None:
    page = open_browser(maker)
    at_the_bench(page, board)
    page.evaluate("document.activeElement.blur()")
    for keys in ("Control+7", "Alt+7", "x", "Escape"):
        page.keyboard.press(keys)
        page.keyboard.press("Enter")
    page.locator("#find").focus()
    page.keyboard.type("4.02")
    expect(page.locator("#find")).to_have_value("4.02")
    assert [box(page, name).input_value() for name in ORDER] == [""] * 5


def test_the_keypad(open_browser: Open, board: Blank, maker: User) -> None:
    """Its keys suit gloves, it covers neither the box that it types into nor the button, and it can be put away."""
    page = open_browser(maker, width=1024, height=768, **TOUCH)
    good = at_the_bench(page, board)
    keypad, key = page.get_by_role("group", name="Keypad"), page.locator(".keypad button")
    expect(keypad).to_be_visible()
    for each in key.all():
        size = each.bounding_box()
        assert size["width"] >= 64 and size["height"] >= 64, each.inner_text()
    first = box(page, "head_treble")
    first.tap()
    assert first.evaluate("box => box.inputMode") == "none", "the tablet's own keyboard stays away"
    for name in ("9", "←", *good["head_treble"]):
        key.get_by_text(name, exact=True).tap()
    expect(first).to_have_value(good["head_treble"])
    key.get_by_text("Next", exact=True).tap()
    expect(beside(page, "head_treble")).to_have_text("in, to size")
    expect(box(page, "head_bass")).to_be_focused()
    key.get_by_text("9", exact=True).tap()
    key.get_by_text("Clear", exact=True).tap()
    expect(box(page, "head_bass")).to_have_value("")
    for _ in range(4):
        key.get_by_text("Next", exact=True).tap()
    expect(page.get_by_role("button", name="Radiused, next board")).to_be_focused()
    # A filled box that is tapped is typed anew.
    first.tap()
    key.get_by_text("3", exact=True).tap()
    expect(first).to_have_value("3")
    page.get_by_role("button", name="Use this device's own keyboard").tap()
    expect(keypad).to_be_hidden()
    assert first.evaluate("box => box.inputMode") == "decimal"
    page.reload()
    expect(page.get_by_role("button", name="Show the keypad")).to_be_visible()
    expect(keypad).to_be_hidden()


@pytest.mark.parametrize(("width", "height"), [(390, 844), (768, 1024), (1280, 800)])
def test_the_keypad_lies_on_nothing_that_is_needed(
    open_browser: Open, board: Blank, maker: User, width: int, height: int
) -> None:
    page = open_browser(maker, width=width, height=height, **TOUCH)
    at_the_bench(page, board)
    if width < 700:
        assert page.evaluate("document.activeElement === document.body"), "on a phone the figures would scroll away"
        expect(page.locator(".keypad")).to_be_hidden()
    box(page, "head_treble").tap()
    for name in ORDER:
        expect(box(page, name)).to_be_focused()
        typed, keys = box(page, name).bounding_box(), page.locator(".keypad").bounding_box()
        apart = (
            typed["y"] + typed["height"] <= keys["y"] + 1 or typed["x"] + typed["width"] <= keys["x"] + 1
            or typed["y"] >= keys["y"] + keys["height"] - 1
        )  # fmt: skip
        assert apart, (name, typed, keys)
        assert typed["y"] >= 0 and typed["y"] + typed["height"] <= height, name
        page.locator(".keypad").get_by_text("Next", exact=True).tap()
    big = page.get_by_role("button", name="Radiused, next board")
    expect(big).to_be_focused()
    expect(big).to_be_in_viewport()
    at = big.bounding_box()
    on_top = "([x, y]) => document.elementFromPoint(x, y).closest('button')?.hasAttribute('data-go')"
    assert at["y"] + at["height"] <= height, at
    assert page.evaluate(on_top, [at["x"] + at["width"] / 2, at["y"] + at["height"] / 2])


def test_a_fraction_is_quick_to_enter(open_browser: Open, maker: User) -> None:
    Shop.objects.update(lengths="fraction")
    board = make_blank(make_pattern())
    page = open_browser(maker, width=390, height=844, **TOUCH)
    page.goto(f"/benches/thicknessing/?board={board.number}")
    box(page, "head").tap()
    key = page.locator(".keypad button")
    for each in key.all():
        size = each.bounding_box()
        assert size["width"] >= 64 and size["height"] >= 64, each.inner_text()
    for name in ("1", "5", "/64", "Next"):
        key.get_by_text(name, exact=True).tap()
    expect(box(page, "head")).to_have_value("15/64")
    expect(beside(page, "head")).to_have_text("out, 0.014 under")  # 6.30 mm less 5.953125 mm
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


SPELLINGS = (
    "6.3", "6.30", "6,3", "+6.3", "+06.30mm", "6.4", "6.400001", "6.4000004", "6.4000005", "6.2", "6.1999999", "6.325",
    "6.335", "0", "-6.3", "0.63 cm", "0,63cm", ".248in", '.248"', "1/4 in", "1/4", "15/64\"", "1 1/64 in", "6 1/2 mm",
    "25-1/2", "3/0", "1 5/4", "6,300", "6.3.1", "six", "6 3", "", " 6.3 ", "6.3 ft", "6.3\u00a0mm", "6½", "99999",
    "1e3", "6.", ".5", "007",
)  # fmt: skip


@pytest.mark.parametrize("lengths", ["mm", "inch"])
def test_the_word_beside_a_box_is_the_servers_word(open_browser: Open, maker: User, lengths: str) -> None:
    """Whatever the script can read, it reads and judges as the server does; the rest it leaves to the server."""
    Shop.objects.update(lengths=lengths)
    board = make_blank(make_pattern())
    style, unit = (LengthStyle.MM, Unit.MM) if lengths == "mm" else (LengthStyle.INCH_DECIMAL, Unit.INCH)
    target = Target("head", "Thickness", "head end", 6.3, 0.1)
    page = open_browser(maker)
    page.goto(f"/benches/thicknessing/?board={board.number}")
    silent = []
    for text in SPELLINGS:
        box(page, "head").fill(text)
        box(page, "head").dispatch_event("change")
        said = beside(page, "head").inner_text()
        try:
            expected = target.verdict(parse_length(text, unit), style)
        except LengthError:
            expected = ""
        if said == "" and expected:
            silent.append(text)
        else:
            assert said == expected, text
    assert set(silent) <= {"6.3\u00a0mm", "6½"}, "spellings that only the server reads"


def test_without_the_script_it_is_a_form(open_browser: Open, board: Blank, maker: User) -> None:
    page = open_browser(maker, java_script_enabled=False, **TOUCH)
    good = at_the_bench(page, board)
    expect(page.locator(".keypad")).to_be_hidden()
    assert box(page, "centre").get_attribute("inputmode") == "decimal"
    for name in ORDER:
        box(page, name).fill(good[name])
    box(page, "centre").fill(str(Decimal(good["centre"]) + 1))
    page.get_by_role("button", name="Radiused, next board").click()
    expect(beside(page, "centre")).to_have_text("out, 1.00 over")
    expect(page.get_by_role("heading", name="Rework")).to_be_visible()
    box(page, "centre").fill(good["centre"])
    page.get_by_role("button", name="Radiused").click()
    expect(page.get_by_text(f"{board.number} is radiused.")).to_be_visible()


def test_the_gauge_takes_a_caliper_too(open_browser: Open, board: Blank, maker: User) -> None:
    page = open_browser(maker)
    page.goto(f"/blanks/{board.number}/gauge/")
    page.evaluate("document.activeElement.blur()")
    for reading in ("4.46", "5.73", "6.15", "5.73", "4.46"):
        page.keyboard.type(reading)
        page.keyboard.press("Enter")
    assert [box(page, f"nut_z{k}").input_value() for k in range(5)] == ["4.46", "5.73", "6.15", "5.73", "4.46"]
    expect(box(page, "middle_z0")).to_be_focused()
    page.get_by_role("button", name="Read the curve").click()
    expect(page.get_by_role("heading", name="Pass")).to_be_visible()
    page.get_by_role("button", name="Keep it in the log").click()
    expect(page.get_by_text("what the gauge read is kept")).to_be_visible()
    assert board.log.last().readings["nut -32"] == "4.46"


@pytest.mark.parametrize(("scheme", "width", "height"), [("light", 1280, 800), ("dark", 390, 844)])
def test_axe_finds_nothing_where_readings_are_judged(
    open_browser: Open, board: Blank, maker: User, scheme: str, width: int, height: int
) -> None:
    """The pages that come of a press, which no address leads to."""
    page = open_browser(maker, width=width, height=height, color_scheme=scheme, **TOUCH)
    good = at_the_bench(page, board)
    for name in ORDER:
        box(page, name).fill(good[name])
    box(page, "head_bass").fill(str(Decimal(good["head_bass"]) + Decimal("0.3")))
    page.locator("[data-go]").tap()
    expect(page.get_by_role("heading", name="Rework")).to_be_visible()
    assert faults_here(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.goto(f"/blanks/{board.number}/gauge/")
    for k, reading in enumerate(("4.46", "5.73", "6.15", "5.73", "4.30")):
        box(page, f"nut_z{k}").fill(reading)
        box(page, f"heel_z{k}").fill(reading)
    for name in ORDER[:4]:
        box(page, name).fill(good[name])
    page.get_by_role("button", name="Read the curve").tap()
    expect(page.locator(".verdict-line")).to_be_visible()
    assert faults_here(page) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
