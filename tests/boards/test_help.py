"""Help: the words page, and the guide that takes an empty shop to its first traveller."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from boards.models import Blank
from shop import pango
from shop.models import FretWire, Shop, Species, User
from tests.factories import make_blank, make_build, make_route, make_species, make_wire
from tests.shop.test_builds import payload as of_build

pytestmark = pytest.mark.django_db
GUIDE = "/help/first-steps/"


def links(page: str) -> list[str]:
    """The addresses that the guide's steps lead to, in their order."""
    steps = page[page.index('class="first-steps"') :]
    return re.findall(r'class="button[^"]*" href="([^"]+)"', steps)


def next_link(page: str) -> str:
    return re.search(r'class="button go" href="([^"]+)"', page[page.index('class="first-steps"') :])[1]


def filled(page: str, **typed: str) -> dict[str, str]:
    """What a page's form carries as it is, with what somebody types."""
    hidden = dict(re.findall(r'<input type="hidden" name="(tap|seen)" value="([^"]*)"', page))
    return {**hidden, **typed}


def test_the_guide_leads_from_an_empty_shop_to_a_printed_traveller(client: Client) -> None:
    """Follows nothing but the guide's links; what the forms ask is typed."""
    typed = {
        "shop_name": "Alder & Ash", "lengths": "mm", "paper": "A4", "username": "nell",
        "password1": "planed-to-8-mm", "password2": "planed-to-8-mm",
    }  # fmt: skip
    page = client.post("/first-run/", typed, follow=True)
    assert page.redirect_chain == [(GUIDE, 302)]
    assert GUIDE in client.get("/").text
    done = page.text.count("<b>Done.</b>")
    assert "wire" in page.text and done >= 1  # a new shop has wires and routes

    habits, kit, jig, intake, build, *_ = links(page.text)
    for address in (habits, kit, jig, intake, build):
        assert client.get(address).status_code == 200, address
    assert next_link(page.text) == habits
    form = client.get(habits)
    values = {field.html_name: field.value() for field in form.context["form"] if field.value() is not None}
    assert client.post(habits, filled(form.text, **values)).status_code == 302

    page = client.get(GUIDE).text
    assert page.count("<b>Done.</b>") == done + 1
    wood = make_species()
    here = client.get(intake).text
    blank = {"species": str(wood.pk), "cut": "quarter", "length": "530", "width": "70", "thickness": "8.5",
             "how_many": "1", "received_on": "2026-01-05"}  # fmt: skip
    answer = client.post(intake, filled(here, **blank))
    assert answer.status_code == 302, answer.context["form"].errors
    here = client.get(build).text
    seen = {name: value for name, value in of_build().items() if name != "tap"}
    answer = client.post(build, filled(here, **seen))
    assert answer.status_code == 302, answer.context["form"].errors

    put, print_it = links(client.get(GUIDE).text)[-2:]
    number = Blank.objects.get().number
    assert put == f"/blanks/{number}/"
    here = client.get(put).text
    action = re.search(r'action="(/blanks/[^"]+/put/)"', here)[1]
    spec = re.search(r'<option value="(build[^"]*|b[^"]*\d)"', here)[1]
    assert client.post(action, {**filled(here), "seen": Blank.objects.get().version, "spec": spec}).status_code == 302

    print_it = links(client.get(GUIDE).text)[-1]
    assert print_it == f"/blanks/{number}/traveller.pdf"
    if pango.printing_available():
        paper = client.get(print_it)
        assert paper["Content-Type"] == "application/pdf" and paper.getvalue().startswith(b"%PDF")
    assert GUIDE not in client.get("/").text


def test_what_is_done_follows_from_the_shop(bench: Client) -> None:
    assert FretWire.objects.exists()
    before = bench.get(GUIDE).text
    make_build(wire=make_wire(), route=make_route())
    assert bench.get(GUIDE).text.count("<b>Done.</b>") == before.count("<b>Done.</b>") + 1
    make_blank()
    assert bench.get(GUIDE).text.count("<b>Done.</b>") == before.count("<b>Done.</b>") + 2
    Shop.objects.update(version=1)
    assert bench.get(GUIDE).text.count("<b>Done.</b>") == before.count("<b>Done.</b>") + 3
    assert User.objects.exists() and Species.objects.exists()


def test_the_words(bench: Client) -> None:
    page = bench.get("/help/").text
    for word in ("Web", "Former", "Traveller", "Sagitta", "Minutes between two setups", "Forecast dates"):
        assert f">{word}</dt>" in page
    assert page.count("<svg") >= 7
    assert "/help/" in bench.get("/kit/").text
