"""What a page says when it cannot be shown."""

from __future__ import annotations

import re

import pytest
from django.core.exceptions import BadRequest, PermissionDenied
from django.db import DatabaseError
from django.http import HttpRequest
from django.test import Client
from django.urls import path

from shop import urls
from shop.models import User


def _raise(error: Exception):
    def view(request: HttpRequest):
        raise error

    return view


urlpatterns = [
    path("bad/", _raise(BadRequest("This form does not say what it was made for."))),
    path("denied/", _raise(PermissionDenied())),
    path("broken/", _raise(DatabaseError("disk I/O error"))),
    *urls.urlpatterns,
]
handler400, handler403, handler404, handler500 = urls.handler400, urls.handler403, urls.handler404, urls.handler500

WORDS = {
    "/bad/": (400, "That was not understood", "This form does not say what it was made for."),
    "/denied/": (403, "This account may not do that", "Nothing was changed."),
    "/no-such-page/": (404, "There is nothing at this address", "Try the number in the box at the top."),
    "/broken/": (500, "Something failed on the shop's machine", "it was saved whole or not at all"),
}


@pytest.fixture
def signed_in(db: None) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(User.objects.create_user("nell"))
    return client


@pytest.mark.urls(__name__)
@pytest.mark.parametrize("address", WORDS)
def test_says_what_happened_in_plain_words(signed_in: Client, address: str) -> None:
    page = signed_in.get(address)
    status, heading, words = WORDS[address]
    assert page.status_code == status
    assert re.search(r"<h1>(.*?)</h1>", page.text)[1] == heading
    assert words in page.text
    assert not re.search(r"please|!</|disk I/O|Traceback|\bError\b", page.text)


@pytest.mark.urls(__name__)
@pytest.mark.parametrize("address", ["/broken/", "/bad/"])
def test_the_last_resort_needs_no_database(
    signed_in: Client, address: str, django_assert_num_queries, settings
) -> None:
    """The style sheets' names are not looked up either: a missing list of packed files may be what failed."""
    settings.MIDDLEWARE = []
    settings.STORAGES = settings.STORAGES | {"staticfiles": {"BACKEND": "no.such.Storage"}}
    with django_assert_num_queries(0):
        page = signed_in.get(address)
    assert page.status_code in (400, 500)
    assert 'href="/static/shop/type.css"' in page.text


def test_the_style_sheets_of_the_last_resort_exist() -> None:
    from django.contrib.staticfiles import finders
    from django.template.loader import render_to_string

    names = re.findall(r'href="/static/([^"]+)"', render_to_string("errors/500.html"))
    assert names and all(finders.find(name) for name in names)


def test_a_form_without_its_token(db: None) -> None:
    client = Client(enforce_csrf_checks=True)
    page = client.post("/sign-in/", {"username": "nell", "password": "x"})
    assert page.status_code == 403
    assert "This page was out of date" in page.text and "Nothing was saved." in page.text


def test_an_address_that_is_not_ours(db: None) -> None:
    page = Client().get("/", headers={"Host": "<b>shop.example"})
    assert page.status_code == 400
    assert "does not answer to the address &lt;b&gt;shop.example" in page.text
    assert "CAMBERBOOK_HOSTS" in page.text
