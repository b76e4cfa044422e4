"""Take the pictures of README.md again: `python3 manage.py test tests/browser/take_tour.py`.

Not one of the tests: its name keeps it out of a run of all of them.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pypdfium2
from PIL import Image
from playwright.sync_api import Page

from boards.models import Blank
from boards.models.moisture import MoistureReading
from shop.models import Shop, User
from tests.browser.conftest import Open
from tests.browser.test_main_job import fill_in_readings

TOUR = Path(__file__).parent / "tour"
MOST_BYTES = 150_000


def keep(name: str, picture: Image.Image) -> None:
    """Keep a picture with as few colours as a page of ours has."""
    TOUR.mkdir(exist_ok=True)
    path = TOUR / f"{name}.png"
    picture.convert("RGB").quantize(64, dither=Image.Dither.NONE).save(path, optimize=True)
    assert path.stat().st_size < MOST_BYTES, f"{path} is too large"


def take(name: str, page: Page) -> None:
    keep(name, Image.open(io.BytesIO(page.screenshot())))


def test_take_the_tour(open_browser: Open, demo_owner: User) -> None:
    Shop.objects.update(web_address="http://192.168.1.20:8000")  # what the QR code opens
    page = open_browser(demo_owner, has_touch=True)

    def show(name: str, address: str, then: Callable[[], object] = lambda: None) -> None:
        assert page.goto(address).status == 200
        then()
        take(name, page)

    def fill_in_a_box() -> None:
        page.get_by_label("Species").select_option(label="Ebony, African")
        page.get_by_label("How many alike").fill("6")
        for label, typed in (("Length", "21 in"), ("Width", "70"), ("Thickness", "9.0"), ("Moisture", "9.1")):
            page.get_by_label(label).first.fill(typed)
        for label, typed in (("Supplier", "Corvane Hardwoods"), ("Lot or box", "C-152"), ("Place in the rack", "A1")):
            page.get_by_label(label).fill(typed)

    show("today", "/")
    show("intake", "/intake/", fill_in_a_box)
    show("rack", "/rack/?show=waiting")
    show("moisture", f"/blanks/{MoistureReading.objects.first().blank}/moisture/")
    show("matching", "/rack/matching/")
    show(
        "build",
        "/builds/B004/",
        lambda: page.get_by_role("heading", name="What this board needs").evaluate(
            "heading => window.scrollTo(0, heading.getBoundingClientRect().top - 20)"
        ),
    )
    number = Blank.objects.filter(next_stage="radiusing", condition="active").first().number
    turned_to = Blank.objects.get(next_stage="radiusing", build__title="Plover for a slide player").number
    show("setup", f"/benches/radiusing/?setup={turned_to}")
    show("bench", f"/benches/radiusing/?board={number}", lambda: fill_in_readings(page))

    def read_it_off() -> None:
        fill_in_readings(page)
        box = page.locator("#id_head_bass")
        box.fill(str(Decimal(box.input_value()) + Decimal("0.2")))
        page.locator("[data-go]").click()
        page.locator(".verdict-line").wait_for()

    show("verdict", f"/benches/radiusing/?board={number}", read_it_off)

    # A window of its own: that nothing is lost in the others is looked at in the end.
    away = page.context.browser.new_context(
        storage_state=page.context.storage_state(), viewport=page.viewport_size, has_touch=True
    ).new_page()
    away.goto(page.url.partition("/blanks/")[0] + f"/benches/radiusing/?board={number}")
    away.wait_for_timeout(3000)  # what comes next is fetched ahead
    away.context.set_offline(True)
    fill_in_readings(away)
    away.locator("[data-go]").click()
    away.get_by_text("1 waiting to send").wait_for()
    away.wait_for_timeout(500)
    take("outbox", away)
    away.context.close()
    log = Blank.objects.filter(log__kind="reworked").get()
    show(
        "log",
        f"/blanks/{log.number}/",
        lambda: page.get_by_role("heading", name="What happened to it").evaluate(
            "heading => window.scrollTo(0, heading.getBoundingClientRect().top - 20)"
        ),
    )

    printed = page.request.get(f"/blanks/{number}/traveller.pdf")
    sheet = pypdfium2.PdfDocument(printed.body())[0]
    keep("traveller", sheet.render(scale=110 / 72, grayscale=True).to_pil())

    phone = open_browser(demo_owner, 390, 844, color_scheme="dark")
    assert phone.goto(f"/benches/radiusing/?board={number}").status == 200
    take("phone", phone)
