"""What a page says when it cannot be shown."""

from __future__ import annotations

import errno
import re

import pytest
from django.core.exceptions import BadRequest, PermissionDenied
from django.core.files.uploadedfile import SimpleUploadedFile
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
    path("broken/", _raise(DatabaseError("no such column"))),
    path("full/", _raise(OSError(errno.ENOSPC, "No space left on device"))),
    *urls.urlpatterns,
]
handler400, handler403, handler404, handler500 = urls.handler400, urls.handler403, urls.handler404, urls.handler500

WORDS = {
    "/bad/": (400, "That was not understood", "This form does not say what it was made for."),
    "/denied/": (403, "This account may not do that", "Nothing was changed."),
    "/no-such-page/": (404, "There is nothing at this address", "Try the number in the box at the top."),
    "/broken/": (500, "Something failed on the shop's machine", "it was saved whole or not at all"),
    "/full/": (503, "The disk of the shop&#x27;s machine is full", "What you pressed was not done"),
}


@pytest.fixture
def signed_in(db: None) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(User.objects.create_user("nell", role="owner"))  # whose are the addresses that no table names
    return client


@pytest.mark.urls(__name__)
@pytest.mark.parametrize("address", WORDS)
def test_says_what_happened_in_plain_words(signed_in: Client, address: str) -> None:
    page = signed_in.get(address)
    status, heading, words = WORDS[address]
    assert page.status_code == status
    assert re.search(r"<h1>(.*?)</h1>", page.text)[1] == heading
    assert words in page.text
    assert not re.search(r"please|!</|no such column|No space|Traceback|\bError\b", page.text)


@pytest.mark.urls(__name__)
@pytest.mark.parametrize("address", ["/broken/", "/full/", "/bad/"])
def test_the_last_resort_needs_no_database(
    signed_in: Client, address: str, django_assert_num_queries, settings
) -> None:
    """The style sheets' names are not looked up either: a missing list of packed files may be what failed."""
    settings.MIDDLEWARE = []
    settings.STORAGES = settings.STORAGES | {"staticfiles": {"BACKEND": "no.such.Storage"}}
    with django_assert_num_queries(0):
        page = signed_in.get(address)
    assert page.status_code in (400, 500, 503)
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


def test_what_is_too_large_to_be_taken_is_said_in_words(signed_in: Client, settings) -> None:
    settings.LARGEST_REQUEST = 2000
    photographs = SimpleUploadedFile("board.jpg", b"x" * 3000, "image/jpeg")
    page = signed_in.post("/blanks/F0001/photographs/add/", {"photographs": photographs})
    assert page.status_code == 413
    assert "That is too large to be taken at once" in page.text
    assert "Nothing of it was kept" in page.text


@pytest.mark.parametrize(
    ("setting", "words"),
    [
        ("DATA_UPLOAD_MAX_NUMBER_FILES", "Too many files were sent at once"),
        ("DATA_UPLOAD_MAX_NUMBER_FIELDS", "More boxes were sent than any page here has"),
        ("DATA_UPLOAD_MAX_MEMORY_SIZE", "More was typed than any page here takes"),
    ],
)
def test_what_is_too_much_is_said_in_words(signed_in: Client, settings, setting: str, words: str) -> None:
    setattr(settings, setting, 1)
    files = [SimpleUploadedFile(f"{name}.jpg", b"x", "image/jpeg") for name in "ab"]
    boxes = dict.fromkeys("abcde", "words")
    page = signed_in.post("/intake/file/", {**boxes, "file": files})
    assert page.status_code == 400
    assert words in page.text
