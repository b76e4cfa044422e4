"""The day's work at a tablet: log a box, put a blank to a build, take it through the benches, print, undo a slip."""

from __future__ import annotations

import io
import re

import pytest
from playwright.sync_api import Page, expect
from pypdf import PdfReader

from boards.management.commands.check_log import troubles
from boards.models import Blank, Kind
from shop.models import Pattern, Species, User
from tests.browser.conftest import Open
from tests.factories import make_blank, make_build, make_user

WOOD = "Walnut, black"


def fill_in_readings(page: Page) -> None:
    """Type into each box the target that stands above it."""
    for block in page.locator(".reading-block").all():
        target = block.locator(".target b").inner_text()
        for box in block.locator("input").all():
            box.fill(target)


def set_up(page: Page) -> None:
    """Say that the machine stands as its card shows."""
    page.locator(".card button.go").click()
    expect(page.locator("[data-readings]")).to_be_visible()


@pytest.mark.parametrize("javascript", [True, False], ids=["with JavaScript", "without JavaScript"])
def test_from_the_box_to_the_curve(open_browser: Open, javascript: bool) -> None:
    user = make_user("maker", first_name="Ida", last_name="Bracken")
    make_build("B901", title="Lark, six strings")
    page = open_browser(user, java_script_enabled=javascript)

    page.goto("/")
    page.get_by_role("link", name="New blanks").first.click()
    page.get_by_label("Species").select_option(label=WOOD)
    page.get_by_label("How many alike").fill("3")
    for label, typed in (("Length", "21 in"), ("Width", "70"), ("Thickness", "8.5 mm"), ("Moisture, %", "8.2")):
        page.get_by_label(label, exact=False).first.fill(typed)
    page.get_by_label("Place in the rack").fill("A2")
    page.get_by_role("button", name="Put into the rack").click()
    expect(page.get_by_text("F0001 to F0003 are in the rack")).to_be_visible()
    assert Blank.objects.filter(species=Species.objects.get(name=WOOD), place="A2").count() == 3

    page.get_by_label("Number of a blank or a build").fill("f0002")
    page.get_by_role("button", name="Find").click()
    expect(page).to_have_url(re.compile(r"/blanks/F0002/$"))
    page.get_by_label("Put it to").select_option(label="B901 Lark, six strings")
    page.get_by_role("button", name="Put it there").click()
    expect(page.get_by_text("F0002 is put to B901")).to_be_visible()

    for stage, done in (("Thicknessing", "Thicknessed"), ("Slotting", "Slotted"), ("Radiusing", "Radiused")):
        page.get_by_role("link", name="Benches", exact=True).click()
        page.get_by_role("link", name=stage).click()
        expect(page.get_by_role("heading", level=1)).to_have_text(f"{stage} today")
        set_up(page)
        fill_in_readings(page)
        page.get_by_role("button", name=re.compile(f"^{done}")).click()
        if stage == "Thicknessing":  # it came in today
            page.get_by_label(re.compile("^Nearly settled")).check()
            page.get_by_role("button", name=re.compile(f"^{done}")).click()
        expect(page.get_by_text(f"F0002 is {done.lower()}")).to_be_visible()
    blank = Blank.objects.get(number="F0002")
    assert blank.done == ["thicknessing", "slotting", "radiusing"]
    assert set(blank.log.last().readings) == {"head_bass", "head_treble", "heel_bass", "heel_treble", "centre"}

    page.goto("/blanks/F0002/")
    link = page.get_by_role("link", name=re.compile("traveller")).first
    printed = page.request.get(link.get_attribute("href"))
    assert printed.status == 200
    assert printed.headers["content-type"] == "application/pdf"
    assert "F0002" in "".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(printed.body())).pages)

    # A slip of the thumb: tapered, taken back.
    page.goto("/benches/tapering/")
    set_up(page)
    fill_in_readings(page)
    page.get_by_role("button", name=re.compile("^Tapered")).click()
    expect(page.get_by_text("F0002 is tapered")).to_be_visible()
    page.goto("/blanks/F0002/")
    page.get_by_role("button", name="Take it back").click()
    expect(page.get_by_text("F0002: taken back")).to_be_visible()
    blank.refresh_from_db()
    assert blank.next_stage == "tapering"
    assert [entry.kind for entry in blank.log.all()][-2:] == [Kind.FINISHED, Kind.UNDONE]
    assert list(troubles(blank)) == []


def test_a_slip_in_a_length_is_asked_about_and_what_was_typed_stays(open_browser: Open) -> None:
    page = open_browser(make_user("maker"))
    page.goto("/intake/")
    page.get_by_label("Species").select_option(label=WOOD)
    for label, typed in (("Length", "530"), ("Width", "70"), ("Thickness", "45")):
        page.get_by_label(label).fill(typed)
    page.get_by_label("Supplier").fill("Lower Yard")
    press = page.get_by_role("button", name="Put into the rack")
    press.click()
    question = page.get_by_label(re.compile("Thickness 45.00 mm: usual is"))
    expect(question).to_be_visible()
    expect(page.get_by_label("Supplier")).to_have_value("Lower Yard")
    assert not Blank.objects.exists()
    question.check()
    press.click()
    expect(page.get_by_text("F0001 is in the rack")).to_be_visible()
    assert Blank.objects.get().thickness == 45


def test_what_cannot_be_read_is_said_beside_its_box(open_browser: Open) -> None:
    page = open_browser(make_user("maker"))
    page.goto("/intake/")
    page.get_by_label("Length").fill("one foot")
    page.get_by_role("button", name="Put into the rack").click()
    box = page.get_by_label("Length")
    expect(box).to_have_value("one foot")
    expect(box).to_have_attribute("aria-invalid", "true")
    said = page.locator(f"#{box.get_attribute('aria-describedby').split()[-1]}")
    expect(said).to_contain_text("cannot be read as a length")


def test_two_quick_taps_count_once(open_browser: Open) -> None:
    page = open_browser(make_user("maker"))
    page.goto("/intake/")
    page.get_by_label("Species").select_option(label=WOOD)
    for label, typed in (("Length", "530"), ("Width", "70"), ("Thickness", "8.5")):
        page.get_by_label(label).fill(typed)
    page.get_by_role("button", name="Put into the rack").dblclick()
    expect(page.get_by_text("is in the rack")).to_be_visible()
    assert Blank.objects.count() == 1


def test_the_drawing_follows_what_is_typed(open_browser: Open, demo_owner: User) -> None:
    """With JavaScript a spec is drawn while it is written; nothing of it is kept."""
    page = open_browser(demo_owner)
    page.goto(f"/builds/new/?pattern={Pattern.objects.order_by('pk')[0].pk}")
    before = page.locator("#preview").inner_html()
    assert "<svg" in before
    page.get_by_label("Scale length", exact=False).first.fill("635")
    page.get_by_label("Scale length", exact=False).first.press("Tab")
    page.wait_for_function("before => document.querySelector('#preview').innerHTML !== before", arg=before)
    assert "<svg" in page.locator("#preview").inner_html()


def test_the_rack_is_looked_through_as_one_types(open_browser: Open, demo_owner: User) -> None:
    page = open_browser(demo_owner)
    page.goto("/rack/")
    page.get_by_role("textbox", name="Look for", exact=True).fill("odd lot")
    expect(page.locator("#rack-list tbody tr")).to_have_count(4)
    expect(page).to_have_url(re.compile(r"q=odd"))
    page.go_back()
    page.reload()
    expect(page.locator("#rack-list tbody tr").first).to_be_visible()


def test_signing_in_and_out(open_browser: Open) -> None:
    make_user("maker", password="a-long-enough-one")
    page = open_browser()
    page.goto("/rack/")
    expect(page).to_have_url(re.compile(r"/sign-in/"))
    page.get_by_label("Your name").fill("maker")
    page.get_by_label("Password").fill("a-long-enough-one")
    page.get_by_role("button", name="Sign in").click()
    expect(page).to_have_url(re.compile(r"/rack/"))
    page.get_by_role("button", name="Sign out").click()
    expect(page).to_have_url(re.compile(r"/sign-in/"))


def test_what_a_form_asks_back_is_in_sight_on_a_phone(open_browser: Open) -> None:
    user = make_user("maker")
    blank = make_blank(make_build("B901"))
    page = open_browser(user, width=390, height=844)
    page.goto("/benches/thicknessing/")
    set_up(page)
    page.get_by_role("button", name=re.compile("^Thicknessed")).click()
    question = page.get_by_label(re.compile("^Not measured"))
    expect(question).to_be_focused()
    expect(question).to_be_in_viewport()
    question.check()
    page.get_by_role("button", name=re.compile("^Thicknessed")).click()
    expect(page).to_have_url(re.compile(r"/benches/thicknessing/$"))
    blank.refresh_from_db()
    assert blank.done == ["thicknessing"]
