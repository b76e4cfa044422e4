"""Accounts, as the owner sees to them, and one's own password."""

from __future__ import annotations

import pytest
from django.contrib.sessions.models import Session
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from shop.models import AccountEntry, Shop, User
from tests.factories import make_blank, make_hand, make_user, tap

pytestmark = pytest.mark.django_db

PASSWORD, NEW = "a-long-enough-one", "planed-to-8-mm"


def typed(**changes: str) -> dict[str, str]:
    values = {"username": "osk", "first_name": "Osk", "last_name": "Varley", "role": "looker-on"}
    return {**values, "password1": NEW, "password2": NEW, **changes}


def test_somebody_is_added_and_can_sign_in(other_bench: Client) -> None:
    assert other_bench.get("/people/new/").status_code == 200
    assert other_bench.post("/people/new/", typed())["Location"] == "/people/"
    osk = User.objects.get(username="osk")
    assert (osk.role, osk.is_staff, osk.is_superuser) == ("looker-on", False, False)
    assert Client().post("/sign-in/", {"username": "osk", "password": NEW}).status_code == 302
    assert [(entry.did, entry.by.username) for entry in osk.account_log.all()] == [("added", "owner")]


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"username": ""}, "username"),
        ({"username": "Maker"}, "username"),
        ({"username": "osk varley"}, "username"),
        ({"username": "osk\x00"}, "username"),
        ({"username": "o" * 151}, "username"),
        ({"first_name": "x" * 5000}, "first_name"),
        ({"role": ""}, "role"),
        ({"role": "god"}, "role"),
        ({"password2": "other"}, "password2"),
        ({"password1": "short1", "password2": "short1"}, "password1"),
        ({"password1": "x" * 5000, "password2": "x" * 5000}, "password1"),
    ],
)
def test_bad_input_is_said_beside_its_box(other_bench: Client, maker: User, change: dict[str, str], field: str) -> None:
    page = other_bench.post("/people/new/", typed(**change))
    assert page.status_code == 422 and field in page.context["form"].errors
    assert NEW not in page.text
    assert not User.objects.filter(first_name="Osk").exists()


def test_another_role_is_in_force_at_once(other_bench: Client, bench: Client, maker: User) -> None:
    sent = {"username": "maker", "first_name": "Ida", "last_name": "Bracken", "role": "looker-on"}
    assert bench.get("/intake/").status_code == 200
    assert other_bench.post(f"/people/{maker.pk}/", tap(seen=0, **sent)).status_code == 302
    assert bench.get("/intake/").status_code == 403
    late = other_bench.post(f"/people/{maker.pk}/", tap(seen=0, **sent | {"role": "owner"}))
    assert late.status_code == 409
    assert "looker-on" in AccountEntry.objects.get().words


def test_a_closed_account_keeps_its_name_and_is_out_everywhere(other_bench: Client, bench: Client, maker: User) -> None:
    blank = make_blank(hand=make_hand(maker))
    maker.set_pin("4071")
    maker.save()
    bench.force_login(maker)
    assert bench.get("/").status_code == 200
    assert other_bench.post(f"/people/{maker.pk}/close/", tap(seen=0)).status_code == 302
    assert bench.get("/").status_code == 302
    assert Client().post("/sign-in/", {"username": "maker", "password": PASSWORD}).status_code == 422
    assert "Ida Bracken" in other_bench.get(f"/blanks/{blank.number}/").text
    assert other_bench.post(f"/people/{maker.pk}/open/", tap(seen=1)).status_code == 302
    maker.refresh_from_db()
    assert maker.is_active and maker.pin == "" and not maker.has_usable_password()
    assert bench.get("/").status_code == 302, "an old session does not come back"


@pytest.mark.parametrize("how", ["closed", "made a maker"])
def test_at_least_one_owner_stays(other_bench: Client, owner: User, maker: User, how: str) -> None:
    Shop.current()
    me = {"username": "owner", "first_name": "Nell", "last_name": "Harrow", "role": "maker"}
    address = f"/people/{owner.pk}/" + ("close/" if how == "closed" else "")
    sent = {} if how == "closed" else me
    refused = other_bench.post(address, tap(seen=0, **sent))
    assert refused.status_code == 409 and "no owner left" in refused.text
    owner.refresh_from_db()
    assert (owner.is_active, owner.role, owner.version) == (True, "owner", 0)
    make_user("second", role="owner")
    assert other_bench.post(address, tap(seen=0, **sent)).status_code == 302


def test_a_new_password_by_the_owner_signs_out_everywhere(other_bench: Client, bench: Client, maker: User) -> None:
    page = other_bench.post(f"/people/{maker.pk}/password/", {"password1": NEW, "password2": "x"})
    assert page.status_code == 422 and NEW not in page.text
    sent = {"password1": NEW, "password2": NEW}
    assert other_bench.post(f"/people/{maker.pk}/password/", sent).status_code == 302
    assert bench.get("/").status_code == 302
    assert Client().post("/sign-in/", {"username": "maker", "password": NEW}).status_code == 302


def test_a_new_password_of_ones_own(bench: Client, maker: User) -> None:
    elsewhere = Client()
    elsewhere.force_login(maker)
    sent = {"password": PASSWORD, "password1": NEW, "password2": NEW}
    assert bench.post("/people/me/password/", sent | {"password": "wrong"}).status_code == 422
    key = bench.session.session_key
    answer = bench.post("/people/me/password/", sent)
    assert answer.status_code == 302
    assert bench.session.session_key != key and not Session.objects.filter(pk=key).exists(), "another session by then"
    assert bench.get("/").status_code == 200 and elsewhere.get("/").status_code == 302


def test_the_session_is_another_one_after_the_sign_in(maker: User) -> None:
    client = Client()
    client.get("/sign-in/")
    session = client.session
    session["planted"] = True
    session.save()
    client.cookies["sessionid"] = session.session_key
    client.post("/sign-in/", {"username": "maker", "password": PASSWORD})
    assert client.cookies["sessionid"].value != session.session_key
    cookie = client.cookies["sessionid"]
    assert cookie["httponly"] and cookie["samesite"] == "Lax"


def test_the_list_costs_the_same_for_many(other_bench: Client) -> None:
    def cost() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert other_bench.get("/people/").status_code == 200
        return len(seen)

    few = cost()
    for number in range(30):
        make_user(f"n{number}")
    assert cost() == few


@pytest.mark.parametrize("address", ["/", "/sign-in/", "/nothing/", "/people/"])
def test_what_every_answer_says_to_the_browser(other_bench: Client, address: str) -> None:
    answer = other_bench.get(address)
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
    assert answer["X-Frame-Options"] == "DENY"
    assert "camera=()" in answer["Permissions-Policy"]
    assert other_bench.get(address, headers={"Host": "elsewhere.example"}).status_code == 400
