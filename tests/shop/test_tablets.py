"""Enrolled tablets and PINs; how often it may be tried; giving way to the next."""

from __future__ import annotations

import logging
import threading
from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from django.db import connection
from django.test import Client
from django.utils import timezone

from shop.models import Tablet, Tries, User
from shop.models.tries import ACCOUNT, PIN, TABLET, Shut, begin_try, end_try
from shop.outbox import mark_of
from shop.ownaccount import NewPinForm
from tests.factories import make_blank, make_build, make_user, press, tap

pytestmark = pytest.mark.django_db

PASSWORD, DIGITS, OTHER = "a-long-enough-one", "4071", "2958"
NOW = timezone.now().replace(microsecond=0)


@pytest.fixture
def ida(maker: User) -> User:
    maker.set_pin(DIGITS)
    maker.save()
    return maker


def enrol(owner: User, name: str = "At the jig", **more: object) -> tuple[Tablet, Client]:
    """A tablet, enrolled by its page as the owner does it, and signed out again."""
    client = Client()
    client.force_login(owner)
    answer = client.post("/people/tablets/enrol/", {"name": name, "idle_minutes": "10", **more})
    assert answer.status_code == 302, answer.context["form"].errors
    cookie = answer.cookies["tablet"]
    assert cookie["httponly"] and cookie["samesite"] == "Lax" and cookie["path"] == "/"
    assert client.post("/sign-out/")["Location"] == "/sign-in/"
    tablet = Tablet.objects.get(name=name)
    assert cookie.value not in (tablet.secret, "") and len(cookie.value) >= 43
    return tablet, client


@pytest.fixture
def tablet(owner: User) -> Client:
    return enrol(owner)[1]


def type_pin(client: Client, person: User, pin: str = DIGITS, **more: str):
    return client.post(f"/sign-in/tablet/{person.pk}/", {"pin": pin, **more})


class TestPin:
    def test_pick_your_name_and_type_it(self, tablet: Client, ida: User) -> None:
        assert tablet.get("/rack/", follow=True).redirect_chain[-1] == ("/sign-in/tablet/?next=%2Frack%2F", 302)
        page = tablet.get("/sign-in/tablet/?next=/rack/").text
        assert f'href="/sign-in/tablet/{ida.pk}/?next=%2Frack%2F">Ida Bracken</a>' in page
        assert "Nell Harrow" not in page, "she has no PIN"
        page = tablet.get(f"/sign-in/tablet/{ida.pk}/?next=/rack/").text
        assert "Ida Bracken" in page and 'inputmode="numeric"' in page
        done = type_pin(tablet, ida, next="/rack/")
        assert (done.status_code, done["Location"]) == (302, "/rack/")
        page = tablet.get("/rack/").text
        assert "Not you? Change" in page and 'data-idle="10"' in page

    def test_not_you_leads_back_to_the_same_page_under_the_next_name(self, tablet: Client, ida: User) -> None:
        type_pin(tablet, ida)
        before = tablet.session.session_key
        out = tablet.post("/sign-out/", {"next": "/rack/"}, follow=True)
        assert out.redirect_chain[-1][0] == "/sign-in/tablet/?next=%2Frack%2F"
        assert not Session.objects.filter(pk=before).exists()

    @pytest.mark.parametrize("pin", ["", "1", "123", "407", "123456789", "abcd", "40 71", "4071\x00", "٤٠٧١", "-071"])
    def test_what_is_no_pin(self, tablet: Client, ida: User, pin: str) -> None:
        answer = type_pin(tablet, ida, pin)
        assert answer.status_code == 422 and answer.context["form"].errors["pin"]
        assert not Tries.objects.exists(), "a slip of the finger is no try"

    def test_is_useless_on_any_other_device(self, tablet: Client, ida: User) -> None:
        for client in (Client(), Client(headers={"Cookie": "tablet=guess"})):
            client.cookies["tablet"] = "guess"
            answer = type_pin(client, ida)
            assert (answer.status_code, answer["Location"]) == (302, "/sign-in/")
            assert client.get("/").status_code == 302
        assert Client().post("/sign-in/", {"username": "maker", "password": DIGITS}).status_code == 422

    def test_a_session_taken_to_another_device_opens_nothing(self, tablet: Client, ida: User) -> None:
        type_pin(tablet, ida)
        thief = Client()
        thief.cookies["sessionid"] = tablet.cookies["sessionid"].value
        assert thief.get("/").status_code == 302

    def test_taken_back_it_takes_no_pin_and_signs_out(self, tablet: Client, ida: User, other_bench: Client) -> None:
        type_pin(tablet, ida)
        assert tablet.get("/").status_code == 200
        pk = Tablet.objects.get().pk
        assert other_bench.post(f"/people/tablets/{pk}/revoke/", tap()).status_code == 302
        assert tablet.get("/").status_code == 302
        assert type_pin(tablet, ida)["Location"] == "/sign-in/"
        assert other_bench.post(f"/people/tablets/{pk}/revoke/", tap()).status_code == 409
        assert (Tablet.objects.get().revoked_by.username) == "owner"

    @pytest.mark.parametrize("gone", ["closed", "no pin", "never was"])
    def test_of_nobody_is_wrong_in_the_same_words(self, tablet: Client, ida: User, gone: str) -> None:
        wrong = type_pin(tablet, ida, OTHER).context["form"].errors["pin"]
        User.objects.filter(pk=ida.pk).update(**{"closed": {"is_active": False}, "no pin": {"pin": ""}}.get(gone, {}))
        pk = 2**70 if gone == "never was" else ida.pk
        answer = tablet.post(f"/sign-in/tablet/{pk}/", {"pin": DIGITS})
        assert (answer.status_code, answer.context["form"].errors["pin"]) == (422, wrong)

    def test_an_owner_with_a_pin_does_not_see_to_people(self, tablet: Client, owner: User) -> None:
        owner.set_pin(DIGITS)
        owner.save()
        type_pin(tablet, owner)
        assert tablet.get("/kit/cutters/new/").status_code == 200
        for address in ("/people/", "/people/tablets/", "/kit/backups/", "/admin/"):
            answer = tablet.get(address)
            assert answer.status_code == 403 and "It takes your password" in answer.text, address
        tablet.post("/sign-out/")
        tablet.post("/sign-in/", {"username": "owner", "password": PASSWORD})
        assert tablet.get("/people/").status_code == 200

    def test_is_set_with_the_password_and_kept_hashed(self, bench: Client, maker: User) -> None:
        sent = {"pin": DIGITS, "again": DIGITS, "password": PASSWORD}
        assert bench.post("/people/me/pin/", sent | {"password": "wrong-one"}).status_code == 422
        answer = bench.post("/people/me/pin/", sent, follow=True)
        maker.refresh_from_db()
        assert maker.has_this_pin(DIGITS) and DIGITS not in maker.pin and not maker.has_this_pin(OTHER)
        assert DIGITS not in re_text(answer.text) and bench.get("/").status_code == 200
        assert maker.account_log.get().did == "pin"
        assert bench.post("/people/me/pin/", {"pin": "", "again": "", "password": PASSWORD}).status_code == 302
        maker.refresh_from_db()
        assert maker.pin == "" and not maker.has_this_pin("")

    @pytest.mark.parametrize("pin", ["0000", "1234", "4321", "87654321", "123", "123456789", "12a4", "٤٠٧١"])
    def test_that_a_thief_tries_first_or_that_is_none_is_refused(self, maker: User, pin: str) -> None:
        form = NewPinForm({"pin": pin, "again": pin, "password": PASSWORD}, person=maker)
        assert not form.is_valid() and "pin" in form.errors

    def test_a_new_pin_ends_the_sessions_of_the_old(self, tablet: Client, ida: User) -> None:
        type_pin(tablet, ida)
        ida.set_pin(OTHER)
        ida.save()
        assert tablet.get("/").status_code == 302


def re_text(page: str) -> str:
    """A page without what happens to hold digits: tokens and request ids."""
    return "".join(part.split(">", 1)[-1] for part in page.split("<"))


class TestGivingWay:
    @pytest.fixture
    def later(self, monkeypatch: pytest.MonkeyPatch):
        def go(minutes: float) -> None:
            monkeypatch.setattr("shop.tablets.timezone.now", lambda: NOW + timedelta(minutes=minutes))

        go(0)
        return go

    def test_after_its_minutes_the_next_press_finds_nobody(self, tablet: Client, ida: User, later) -> None:
        type_pin(tablet, ida)
        later(9)
        assert tablet.get("/").status_code == 200
        later(18)
        assert tablet.get("/").status_code == 200, "counted from the last page"
        later(28.5)
        assert tablet.get("/").status_code == 302

    def test_what_a_page_asks_by_itself_does_not_count(self, tablet: Client, ida: User, later) -> None:
        type_pin(tablet, ida)
        for minutes in (4, 8, 9.9):
            later(minutes)
            assert tablet.get("/outbox/", headers={"Outbox": "later"}).status_code == 200
            assert tablet.get("/benches/radiusing/news/").status_code == 200
        later(10.5)
        assert tablet.get("/outbox/", headers={"Outbox": "later"})["Tap-Outcome"] == "signed-out"

    def test_a_press_of_who_left_waits_and_never_goes_under_the_next_name(
        self, tablet: Client, ida: User, owner: User, later
    ) -> None:
        owner.set_pin(OTHER)
        owner.save()
        blank = make_blank(make_build())
        sent, address = press(blank, **{"hold-reason": "A shake"}), f"/blanks/{blank.number}/hold/"
        headers = {"Outbox": "later", "Outbox-By": mark_of(ida)}
        type_pin(tablet, ida)
        later(11)
        assert tablet.post(address, sent, headers=headers)["Tap-Outcome"] == "signed-out"
        type_pin(tablet, owner, OTHER)
        assert tablet.post(address, sent, headers=headers)["Tap-Outcome"] == "other-person"
        tablet.post("/sign-out/")
        type_pin(tablet, ida)
        assert tablet.post(address, sent, headers=headers)["Tap-Outcome"] == "done"
        blank.refresh_from_db()
        assert blank.log.order_by("number").last().by == ida

    def test_a_form_sent_without_the_script_is_kept_for_a_look(self, tablet: Client, ida: User, owner: User, later):
        owner.set_pin(OTHER)
        owner.save()
        blank = make_blank(make_build())
        type_pin(tablet, ida)
        later(11)
        address = f"/blanks/{blank.number}/hold/"
        assert tablet.post(address, press(blank, **{"hold-reason": "A shake"})).status_code == 302
        assert "not saved yet" in tablet.get("/sign-in/tablet/").text
        assert type_pin(tablet, owner, OTHER)["Location"] == "/not-sent/"
        page = tablet.get("/not-sent/").text
        assert "under the name of <b>Nell Harrow</b>" in page and "A shake" in page

    def test_a_clock_set_back_gives_way_too(self, tablet: Client, ida: User, later) -> None:
        type_pin(tablet, ida)
        later(-60)
        assert tablet.get("/").status_code == 302


class TestTries:
    """The clock is passed in."""

    ONE = ((ACCOUNT, "nell"),)

    def tries(self, how_many: int, at, counted=ONE) -> list[Shut | None]:
        return [begin_try(counted, at) for _ in range(how_many)]

    def test_the_wait_doubles_up_to_an_hour(self) -> None:
        assert self.tries(5, NOW) == [None] * 5
        at = NOW
        for minutes in (1, 2, 4, 8, 16, 32, 60, 60):
            wait = timedelta(minutes=minutes)
            assert begin_try(self.ONE, at) == Shut(wait)
            assert begin_try(self.ONE, at + wait / 2) == Shut(wait / 2), "asking costs nothing, and gains nothing"
            at += wait
            assert begin_try(self.ONE, at) is None

    def test_a_day_later_it_begins_anew_and_what_is_right_clears_it(self) -> None:
        self.tries(6, NOW)
        assert self.tries(5, NOW + timedelta(days=1)) == [None] * 5
        end_try(clear=self.ONE)
        assert self.tries(5, NOW + timedelta(days=1)) == [None] * 5

    def test_a_clock_set_back_makes_nobody_wait_longer(self) -> None:
        self.tries(5, NOW)
        back = NOW - timedelta(days=300)
        assert begin_try(self.ONE, back) == Shut(timedelta(minutes=1))
        assert begin_try(self.ONE, back + timedelta(minutes=1)) is None

    def test_a_pin_is_shut_after_fifteen_whatever_time_goes_by(self) -> None:
        counted, at, taken = ((PIN, "7"),), NOW, 0
        for _ in range(200):
            at += timedelta(hours=1)
            taken += begin_try(counted, at) is None
        assert taken == 15
        assert begin_try(counted, at) == Shut(None)

    def test_what_several_share_gets_the_right_ones_back(self) -> None:
        shared = (TABLET, "1")
        for _ in range(40):
            assert begin_try([shared], NOW) is None
            end_try(give_back=[shared])

    def test_the_page_says_how_long_and_a_stranger_s_name_is_told_the_same(self, monkeypatch) -> None:
        make_user("nell")
        said = {}
        for name in ("nell", "nobody-of-this-name"):
            client, said[name] = Client(REMOTE_ADDR=f"10.0.0.{len(name)}"), []
            for minutes in (0, 0, 0, 0, 0, 0, 1, 1.1, 3.1):
                monkeypatch.setattr("shop.people.timezone.now", lambda m=minutes: NOW + timedelta(minutes=m))
                page = client.post("/sign-in/", {"username": name.upper(), "password": "wrong"})
                said[name].append((page.status_code, page.context["form"].non_field_errors()))
        assert said["nell"] == said["nobody-of-this-name"]
        words = [errors[0] for _, errors in said["nell"]]
        assert [status for status, _ in said["nell"]] == [422] * 5 + [429, 422, 429, 422]
        assert words[5] == "Too many tries. Wait 1 minute." and words[7] == "Too many tries. Wait 2 minutes."
        right = client.post("/sign-in/", {"username": "nell", "password": PASSWORD})
        assert right.status_code == 429, "the right password has to wait as well"

    def test_one_address_that_tries_many_names_is_shut(self) -> None:
        client = Client(REMOTE_ADDR="10.0.0.9")
        answers = [client.post("/sign-in/", {"username": f"name{n}", "password": "x"}).status_code for n in range(21)]
        assert answers == [422] * 20 + [429]
        make_user("nell")
        other = Client(REMOTE_ADDR="10.0.0.10").post("/sign-in/", {"username": "nell", "password": PASSWORD})
        assert other.status_code == 302

    def test_a_shut_pin_is_opened_by_the_password(self, tablet: Client, ida: User, monkeypatch) -> None:
        for hour in range(15):
            monkeypatch.setattr("shop.tablets.timezone.now", lambda h=hour: NOW + timedelta(hours=h))
            end_try(clear=[(TABLET, str(Tablet.objects.get().pk))])
            assert type_pin(tablet, ida, OTHER).status_code == 422
        answer = type_pin(tablet, ida)
        assert answer.status_code == 429 and "signed in with your password" in answer.text
        assert Client().post("/sign-in/", {"username": "maker", "password": PASSWORD}).status_code == 302
        assert type_pin(tablet, ida).status_code == 302

    def test_nothing_typed_is_written_to_the_log(self, tablet: Client, ida: User, caplog) -> None:
        with caplog.at_level(logging.DEBUG):
            type_pin(tablet, ida, OTHER)
            Client().post("/sign-in/", {"username": "maker", "password": "secret-of-mine"})
        assert OTHER not in caplog.text and "secret-of-mine" not in caplog.text
        kept = " ".join(f"{row.key} {row}" for row in Tries.objects.all())
        assert "maker" not in kept


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_a_dozen_tries_at_once_are_no_better_than_one_after_another() -> None:
    at_once, taken = threading.Barrier(12), []

    def guess() -> None:
        at_once.wait()
        taken.append(begin_try([(ACCOUNT, "nell")], NOW) is None)
        connection.close()

    threads = [threading.Thread(target=guess) for _ in range(12)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(taken) == [False] * 7 + [True] * 5
