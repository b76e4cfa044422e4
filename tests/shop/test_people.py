"""Signing in, and the first run."""

from __future__ import annotations

import re
import threading

import pytest
from django.db import connection
from django.test import Client
from django.urls import URLPattern, get_resolver

from shop.models import Shop, User

PASSWORD = "planed-to-8-mm"


def typed(**changes: str) -> dict[str, str]:
    return {
        "shop_name": "Alder & Ash",
        "lengths": "fraction",
        "paper": "letter",
        "username": "nell",
        "password1": PASSWORD,
        "password2": PASSWORD,
    } | changes


@pytest.mark.django_db
class TestFirstRun:
    def test_it_works(self, client: Client) -> None:
        page = client.get("/", follow=True)
        assert page.redirect_chain == [("/sign-in/?next=/", 302), ("/first-run/", 302)]
        assert "Whose shop is this?" in page.text

        done = client.post("/first-run/", typed())
        assert (done.status_code, done["Location"]) == (302, "/help/first-steps/")
        owner = User.objects.get()
        assert (owner.username, owner.is_superuser, owner.is_staff) == ("nell", True, True)
        assert owner.check_password(PASSWORD)
        shop = Shop.current()
        assert (shop.name, shop.lengths, shop.paper) == ("Alder & Ash", "fraction", "letter")
        assert client.get("/").status_code == 200  # and is signed in

    @pytest.mark.parametrize(
        ("change", "field", "words"),
        [
            ({"shop_name": ""}, "shop_name", "Fill this in."),
            ({"shop_name": "x" * 61}, "shop_name", "It is 61 characters long; 60 is the most."),
            ({"shop_name": "a\x00b"}, "shop_name", "a character in it that cannot be kept"),
            ({"lengths": "cubits"}, "lengths", "not one of the choices"),
            ({"paper": ""}, "paper", "Choose one."),
            ({"username": ""}, "username", "Fill this in."),
            ({"username": "nell harrow"}, "username", "Only letters, digits"),
            ({"username": "n" * 151}, "username", "It is 151 characters long; 150 is the most."),
            ({"password1": "", "password2": ""}, "password1", "Fill this in."),
            ({"password2": "planed-to-7-mm"}, "password2", "The two passwords differ."),
            ({"password1": "short1", "password2": "short1"}, "password2", "at least 8"),
            ({"password1": "password", "password2": "password"}, "password2", "too common"),
            ({"password1": "8305519274", "password2": "8305519274"}, "password2", "entirely numeric"),
        ],
    )
    def test_bad_input_is_said_beside_the_field_and_nothing_is_made(
        self, client: Client, change: dict[str, str], field: str, words: str
    ) -> None:
        page = client.post("/first-run/", typed(**change))
        assert page.status_code == 422
        assert words in " ".join(page.context["form"].errors[field])
        if field != "shop_name":
            assert 'value="Alder &amp; Ash"' in page.text  # what was typed is kept
        assert PASSWORD not in page.text
        assert not User.objects.exists() and not Shop.objects.filter(name="Alder & Ash").exists()

    def test_is_no_use_later(self, client: Client) -> None:
        User.objects.create_user("nell")
        assert client.get("/first-run/")["Location"] == "/sign-in/"
        done = client.post("/first-run/", typed(username="stranger"))
        assert (done.status_code, done["Location"]) == (302, "/sign-in/")
        assert list(User.objects.values_list("username", flat=True)) == ["nell"]
        assert Shop.current().name != "Alder & Ash"
        assert client.get("/").status_code == 302

    def test_other_methods(self, client: Client) -> None:
        assert client.put("/first-run/").status_code == 405


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_of_two_first_runs_at_once_one_owns_the_shop() -> None:
    at_once = threading.Barrier(2)
    answers = {}

    def send(name: str) -> None:
        client = Client()
        assert client.get("/first-run/").status_code == 200
        at_once.wait()
        answers[name] = client.post("/first-run/", typed(username=name, shop_name=name))["Location"]
        connection.close()

    threads = [threading.Thread(target=send, args=(name,)) for name in ("nell", "ida")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    owner = User.objects.get().username
    assert Shop.current().name == owner
    assert answers == {owner: "/help/first-steps/", {"nell": "ida", "ida": "nell"}[owner]: "/sign-in/"}


@pytest.mark.django_db
class TestSignIn:
    @pytest.fixture(autouse=True)
    def somebody(self) -> None:
        User.objects.create_user("nell", password=PASSWORD)

    def test_it_works(self, client: Client) -> None:
        page = client.get("/rack/?species=ebony", follow=True)
        assert page.request["PATH_INFO"] == "/sign-in/"
        assert 'name="next" value="/rack/?species=ebony"' in page.text
        done = client.post("/sign-in/", {"username": "nell", "password": PASSWORD, "next": "/rack/?species=ebony"})
        assert (done.status_code, done["Location"]) == (302, "/rack/?species=ebony")
        assert client.get("/sign-in/")["Location"] == "/"

    @pytest.mark.parametrize(("name", "password"), [("nell", "wrong"), ("stranger", PASSWORD), ("nell\x00", PASSWORD)])
    def test_wrong(self, client: Client, name: str, password: str) -> None:
        page = client.post("/sign-in/", {"username": name, "password": password})
        assert page.status_code == 422
        assert password not in page.text
        assert client.get("/").status_code == 302

    def test_says_what_is_wrong_without_saying_please(self, client: Client) -> None:
        page = client.post("/sign-in/", {"username": "nell", "password": "wrong"})
        assert "No account has this name with this password. Capitals count in both." in page.text
        assert "lease" not in page.text

    def test_closed_account(self, client: Client) -> None:
        User.objects.update(is_active=False)
        assert client.post("/sign-in/", {"username": "nell", "password": PASSWORD}).status_code == 422

    @pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"])
    def test_never_leads_elsewhere(self, client: Client, elsewhere: str) -> None:
        done = client.post("/sign-in/", {"username": "nell", "password": PASSWORD, "next": elsewhere})
        assert done["Location"] == "/"

    def test_sign_out_needs_a_press(self, client: Client) -> None:
        client.post("/sign-in/", {"username": "nell", "password": PASSWORD})
        assert client.get("/sign-out/").status_code == 405
        assert client.get("/").status_code == 200
        assert client.post("/sign-out/")["Location"] == "/sign-in/"
        assert client.get("/").status_code == 302

    def test_the_demo_says_how_to_get_in_and_a_shop_does_not(self, client: Client, settings) -> None:
        assert settings.DEMO_ACCOUNT["password"] not in client.get("/sign-in/").text
        settings.DEMO = True
        page = client.get("/sign-in/").text
        assert "This is the demo" in page and settings.DEMO_ACCOUNT["password"] in page


def every_address(patterns: list, before: str = "/") -> list[str]:
    """Return an address for each page, the admin's apart, with something in the place of its number or name."""
    found = []
    for pattern in patterns:
        route = re.sub(r"<int:\w+>", "1", str(pattern.pattern))
        route = re.sub(r"<uuid:\w+>", "8a1f6e0e-2f5b-4a57-9d0a-0c7c1b2f9e11", route)
        address = before + re.sub(r"<slug:\w+>", "a-1", route)
        if isinstance(pattern, URLPattern):
            found.append(address)
        elif pattern.app_name != "admin":
            found += every_address(pattern.url_patterns, address)
    return found


@pytest.mark.django_db
def test_every_page_is_behind_the_sign_in(client: Client) -> None:
    """Whatever is added later: only the pages named here open without an account."""
    User.objects.create_user("nell")
    # A calendar cannot sign in: the feed's address is its key, 256 bits of it, and nothing else opens with that.
    feed = "/calendar/a-1.ics"
    # Whoever asks about the machine's health is a program. Where no tablet is enrolled, the names lead to the sign-in.
    open_to_all = {"/sign-in/", "/first-run/", "/sign-in/tablet/", "/sign-in/tablet/1/", "/health/", feed}
    closed = set(every_address(get_resolver().url_patterns)) - open_to_all
    assert {"/", "/rack/", "/blanks/a-1/", "/kit/"} <= closed
    for address in closed:
        for answer in (client.get(address), client.post(address)):
            assert answer.status_code == 302, address
            assert answer["Location"].startswith("/sign-in/"), address
    assert client.get(feed).status_code == 404


@pytest.mark.django_db
class TestEndedSession:
    """htmx follows a redirect by itself, and would put the sign-in page where a row was."""

    def test_the_whole_page_goes_to_the_sign_in(self, client: Client) -> None:
        User.objects.create_user("nell")
        headers = {"HX-Request": "true", "HX-Current-URL": "http://testserver/rack/?species=ebony"}
        for answer in (client.get("/", headers=headers), client.post("/", headers=headers)):
            assert answer.status_code == 200 and "Location" not in answer
            assert answer["HX-Redirect"] == "/sign-in/?next=%2Frack%2F%3Fspecies%3Debony"

    @pytest.mark.parametrize("page", ["", "https://elsewhere.example/x"])
    def test_from_a_page_that_is_not_ours(self, client: Client, page: str) -> None:
        answer = client.get("/", headers={"HX-Request": "true", "HX-Current-URL": page})
        assert answer["HX-Redirect"] == "/sign-in/?next=%2F"

    def test_without_htmx(self, client: Client) -> None:
        assert client.get("/")["Location"] == "/sign-in/?next=/"
