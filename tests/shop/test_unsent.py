"""A form that is sent after the session has ended is not lost."""

from __future__ import annotations

import html
import re
import time

import pytest
from django.contrib.sessions.models import Session
from django.test import Client
from django.urls import reverse

from boards.models import Blank
from shop import unsent
from shop.models import Tap, User
from tests.factories import make_build, make_species, make_user, tap

pytestmark = pytest.mark.django_db

PASSWORD = "a-long-enough-one"


@pytest.fixture
def intake_url(bench: Client) -> str:
    return reverse("boards:intake")


def typed(**changes: str) -> dict[str, str]:
    species = make_species()
    values = {"species": species.pk, "cut": "quarter", "length": "530", "width": "70", "thickness": "9.25"}
    return tap(**{**values, "received_on": "2026-01-05", "how_many": "2", "remarks": 'A "knot" <b>'}, **changes)


def carried(page: str, action: str) -> dict[str, str]:
    """Read the hidden fields of the form that goes to an address, as a browser would send them."""
    form = re.search(rf'<form method="post" action="{re.escape(action)}">(.*?)</form>', page, re.DOTALL)[1]
    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)">', form)
    return {html.unescape(name): html.unescape(value) for name, value in found}


def sign_in(client: Client, name: str = "maker"):
    return client.post("/sign-in/", {"username": name, "password": PASSWORD, "next": "/rack/"})


def test_what_was_typed_is_shown_after_the_sign_in_and_sent_by_a_press(intake_url: str) -> None:
    client = Client(enforce_csrf_checks=True)
    form = client.get("/sign-in/")
    sent = typed()
    token = form.cookies["csrftoken"].value
    assert client.post(intake_url, {**sent, "csrfmiddlewaretoken": token}).status_code == 302
    assert not Blank.objects.exists()
    page = client.get("/sign-in/")
    assert "what you sent is not saved yet" in page.text

    done = client.post("/sign-in/", {"username": "maker", "password": PASSWORD, "csrfmiddlewaretoken": token})
    assert (done.status_code, done["Location"]) == (302, "/not-sent/")
    page = client.get("/not-sent/").text
    assert "9.25" in page and "Ida Bracken" in page
    assert not Blank.objects.exists(), "nothing is sent without a press"
    again = carried(page, intake_url)
    assert {name: str(value) for name, value in sent.items()} == {
        name: value for name, value in again.items() if name != "csrfmiddlewaretoken"
    }
    assert again["csrfmiddlewaretoken"] != token
    for _ in range(2):  # delivered twice, counted once
        assert client.post(intake_url, again).status_code == 302
    assert Blank.objects.count() == 2
    assert Tap.objects.get(pk=sent["tap"]).by == User.objects.get(username="maker")
    assert client.get("/not-sent/")["Location"] == "/", "it is kept no longer"


def test_whoever_signs_in_on_the_device_sees_it_and_sends_it_by_their_own_name(intake_url: str) -> None:
    make_user("ida")
    client = Client()
    client.post(intake_url, typed())
    sign_in(client, "ida")
    page = client.get("/not-sent/").text
    assert "<b>ida</b>" in page
    client.post(intake_url, carried(page, intake_url))
    assert set(Blank.objects.values_list("changed_by__username", flat=True)) == {"ida"}


def test_no_other_device_sees_it(intake_url: str, bench: Client) -> None:
    Client().post(intake_url, typed())
    other = Client()
    assert sign_in(other)["Location"] == "/rack/"
    assert other.get("/not-sent/")["Location"] == "/"
    assert bench.get("/not-sent/")["Location"] == "/"


def test_it_can_be_dropped_and_is_gone_with_the_sign_out(intake_url: str) -> None:
    client = Client()
    for leave in (lambda sent: client.post("/not-sent/", {"tap": sent["tap"]}), lambda _: client.post("/sign-out/")):
        client.post("/sign-out/")
        sent = typed()
        client.post(intake_url, sent)
        sign_in(client)
        assert client.get("/not-sent/").status_code == 200
        leave(sent)
        sign_in(client)
        assert client.get("/not-sent/")["Location"] == "/"
    assert not Blank.objects.exists()


def test_a_wrong_password_loses_nothing(intake_url: str) -> None:
    client = Client()
    client.post(intake_url, typed())
    assert client.post("/sign-in/", {"username": "maker", "password": "wrong"}).status_code == 422
    assert sign_in(client)["Location"] == "/not-sent/"


def test_it_is_kept_for_half_an_hour(intake_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    client = Client()
    client.post(intake_url, typed())
    now = time.time()
    monkeypatch.setattr(unsent.time, "time", lambda: now + 30 * 60 + 2)
    assert "not saved yet" not in client.get("/sign-in/").text
    assert sign_in(client)["Location"] == "/rack/"


@pytest.mark.parametrize(
    "changes",
    [
        {"remarks": "x" * 20_001},
        {f"box{k}": "1" for k in range(201)},
        {"old_password": "planed-to-8-mm"},
        {"tap": ""},
    ],
    ids=["too long", "too many fields", "a password", "not a form of ours"],
)
def test_what_is_not_kept(intake_url: str, changes: dict[str, str]) -> None:
    client = Client()
    values = {**typed(), **changes}
    assert client.post(intake_url, values)["Location"].startswith("/sign-in/")
    assert not Session.objects.filter(pk=getattr(client.cookies.get("sessionid"), "value", ""))
    assert sign_in(client)["Location"] == "/rack/"


def test_reading_a_page_keeps_nothing(intake_url: str) -> None:
    client = Client()
    client.get(f"{intake_url}?tap=1")
    assert "sessionid" not in client.cookies


def test_a_drawing_that_refreshes_itself_leaves_the_form_around_it(bench: Client) -> None:
    build = make_build()
    page = f"/builds/{build.number}/change/"
    client = Client()
    headers = {"HX-Request": "true", "HX-Current-URL": f"http://testserver{page}"}
    answer = client.post("/builds/preview/", tap(scale="25 1/2"), headers=headers)
    assert answer["HX-Redirect"].startswith("/sign-in/")
    assert sign_in(client)["Location"] == "/not-sent/"
    assert carried(client.get("/not-sent/").text, page)["scale"] == "25 1/2"


@pytest.mark.parametrize("page", ["https://elsewhere.example/x", "http://testserver//elsewhere.example/x", ""])
def test_it_never_goes_elsewhere(bench: Client, page: str) -> None:
    client = Client()
    headers = {"HX-Request": "true", "HX-Current-URL": page}
    client.post("/builds/preview/", tap(scale="648"), headers=headers)
    assert sign_in(client)["Location"] == "/rack/"
