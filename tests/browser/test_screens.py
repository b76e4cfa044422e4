"""Every page on the tablet at the machines and on a phone: nothing sideways, and targets for gloved fingers."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from boards.models import Blank
from shop.models import Build, Pattern, User
from shop.stages import STAGES
from tests.browser.conftest import Open

SCREENS = {"tablet": (1280, 800), "phone": (390, 844)}
LEAST = 44  # CSS px: WCAG 2.2, success criterion 2.5.5 (enhanced)


def pages_of_the_demo() -> list[str]:
    """One page of each kind, of boards in every condition, and every bench."""
    chosen = {blank.number for blank in Blank.objects.filter(condition__in=["held", "scrapped"])}
    for stage in (*STAGES, ""):
        chosen |= {blank.number for blank in Blank.objects.filter(next_stage=stage).order_by("number")[:1]}
    pages = ["/", "/rack/", "/rack/?show=resting", "/intake/", "/benches/", "/kit/", "/kit/shop/", "/find/?q=F00"]
    pages += ["/find/?q=nothing", "/builds/", "/builds/?show=closed", "/builds/new/", "/kit/patterns/new/"]
    pages += ["/labels/", "/labels/?box=F0015", "/kit/labels/new/", "/kit/labels/1/", "/intake/file/", "/export/"]
    pages += [f"/blanks/{number}/" for number in sorted(chosen)]
    # One build of each shape and state: the pages of others are made of the same parts.
    shapes = {
        (build.bass_scale is None, build.radius_nut is None, build.radius_nut == build.radius_heel, build.state): build
        for build in Build.objects.all()
    }
    for build in shapes.values():
        pages += [f"/builds/{build.number}/", f"/builds/{build.number}/change/"]
    pages += [f"/kit/patterns/{pk}/" for pk in Pattern.objects.values_list("pk", flat=True)]
    return pages + at_the_benches()


def at_the_benches() -> list[str]:
    """Every bench as it opens, with the card of its setup, and with a board in hand."""
    first = {stage: Blank.objects.ready_for(stage).order_by("number")[0] for stage in STAGES}
    return [f"/benches/{stage}/{query}" for stage in STAGES for query in ("", f"?board={first[stage].number}")]


# What is pressed in the day's work. A link that covers its row is as large as the row, a box to tick as its label.
TOO_SMALL = """least => [...document.querySelectorAll(
    'button, a.button, a.whole, nav a, summary, label.tick, .run a, select, .field input:not([type=hidden])')]
    .filter(e => e.checkVisibility({visibilityProperty: true}))
    .map(e => {
        const around = e.matches('a.whole') ? 'tr' : e.matches('[type=checkbox], [type=radio]') ? 'label' : '*';
        const box = e.closest(around).getBoundingClientRect();
        return [box.width.toFixed(1), box.height.toFixed(1), e.textContent.trim().slice(0, 40) || e.name];
    })
    .filter(([width, height]) => width < least || height < least)"""

SIDEWAYS = """() => {
    const root = document.documentElement;
    if (root.scrollWidth <= root.clientWidth) return [];
    return [...document.querySelectorAll('main *, header *')]
        .filter(e => e.getBoundingClientRect().right > root.clientWidth + 1 && !e.closest('.scroll'))
        .slice(0, 5).map(e => e.tagName + '.' + e.className);
}"""


def looked_at(page: Page, address: str) -> list[str]:
    """Go to a page and say what is wrong with it."""
    answer = page.goto(address)
    wrong = [] if answer.status == 200 else [f"{address}: {answer.status}"]
    wrong += [f"{address} is wider than the screen: {what}" for what in page.evaluate(SIDEWAYS)]
    return wrong + [f"{address} has a target of {w} x {h}: {what}" for w, h, what in page.evaluate(TOO_SMALL, LEAST)]


@pytest.mark.parametrize("screen", SCREENS)
def test_every_page_fits_the_screen_and_the_finger(open_browser: Open, demo_owner: User, screen: str) -> None:
    width, height = SCREENS[screen]
    page = open_browser(demo_owner, width, height, has_touch=True)
    wrong = [trouble for address in pages_of_the_demo() for trouble in looked_at(page, address)]
    assert not wrong, "\n".join(wrong)


@pytest.mark.parametrize("screen", SCREENS)
def test_the_sign_in_page_too(open_browser: Open, demo_owner: User, screen: str) -> None:
    assert looked_at(open_browser(None, *SCREENS[screen]), "/sign-in/") == []


@pytest.mark.parametrize("screen", SCREENS)
def test_the_page_of_the_first_run_too(open_browser: Open, screen: str) -> None:
    assert looked_at(open_browser(None, *SCREENS[screen]), "/first-run/") == []


def test_folded_forms_fit_when_they_are_open(open_browser: Open, demo_owner: User) -> None:
    blank = Blank.objects.filter(condition="active", next_stage="radiusing").first()
    page = open_browser(demo_owner, *SCREENS["phone"])
    page.goto(f"/blanks/{blank.number}/")
    page.evaluate("() => document.querySelectorAll('details').forEach(e => e.open = true)")
    assert page.evaluate(SIDEWAYS) == []
    assert page.evaluate(TOO_SMALL, LEAST) == []


def test_errors_fit_as_well(open_browser: Open, demo_owner: User) -> None:
    page = open_browser(demo_owner, *SCREENS["phone"])
    for address in ("/intake/", "/builds/new/"):
        page.goto(address)
        page.get_by_label("Length" if "intake" in address else "Scale length").first.fill("as long as it takes")
        page.locator("main form button.go").last.click()
        page.locator('[aria-invalid="true"]').first.wait_for()
        assert page.evaluate(SIDEWAYS) == []


def test_dark_and_light_use_the_same_page(open_browser: Open, demo_owner: User) -> None:
    grounds = set()
    for scheme in ("light", "dark"):
        page = open_browser(demo_owner, color_scheme=scheme)
        page.goto("/benches/radiusing/")
        grounds.add(page.evaluate("() => getComputedStyle(document.body).backgroundColor"))
    assert len(grounds) == 2
