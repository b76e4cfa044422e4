"""What came of a press, said so that a script cannot mistake it; and presses that come late."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from threading import Barrier, Thread

import pytest
from django.db import connection
from django.test import Client
from django.utils import formats, timezone

from boards.models import Bench, Blank, Kind, LogEntry
from boards.times import minutes_from_log
from shop.models import Tap, User
from shop.outbox import mark_of
from tests.factories import good_readings, make_blank, make_build, make_hand, make_jig, make_user, press, tap
from tests.shop.test_jigs import typed

pytestmark = pytest.mark.django_db


@pytest.fixture
def blank(maker: User) -> Blank:
    return make_blank(make_build())


def finishing(blank: Blank, **changes: str) -> tuple[str, dict[str, str]]:
    typed = {name: str(value) for name, value in good_readings(blank).items()}
    return f"/blanks/{blank.number}/finish/{blank.next_stage}/", press(blank, **typed, **changes)


def a_box(sent: dict[str, str]) -> str:
    """Name one of the boxes for readings."""
    return next(name for name in sent if name not in ("tap", "seen", "then"))


def log(blank: Blank):
    return LogEntry.objects.filter(blank=blank).order_by("number")


def outbox(user: User, how: str = "later", waited: int = 0) -> dict[str, str]:
    return {"Outbox": how, "Outbox-By": mark_of(user), "Outbox-Waited": str(waited)}


def outcome(answer) -> tuple[int, str, str]:
    return answer.status_code, answer.headers.get("Tap", ""), answer.headers.get("Tap-Outcome", "")


def test_an_ordinary_form_is_acknowledged_too(bench: Client, blank: Blank) -> None:
    address, sent = finishing(blank)
    first, again = bench.post(address, sent), bench.post(address, sent)
    assert outcome(first) == (302, sent["tap"], "done")
    assert outcome(again) == (302, sent["tap"], "done-before")
    assert first["Location"] == again["Location"]


def test_a_script_is_told_where_to_go_on_instead_of_being_led_there(bench: Client, maker: User, blank: Blank) -> None:
    address, sent = finishing(blank, then="/benches/thicknessing/")
    answer = bench.post(address, sent, headers=outbox(maker, "now"))
    assert outcome(answer) == (204, sent["tap"], "done")
    assert answer["Tap-Next"] == "/benches/thicknessing/" and "Location" not in answer
    assert "no-store" in answer["Cache-Control"]
    again = bench.post(address, sent, headers=outbox(maker))
    assert outcome(again) == (204, sent["tap"], "done-before")
    assert log(blank).count() == 3
    assert f"{blank.number} is thicknessed." in bench.get("/benches/thicknessing/").text


def test_what_comes_late_says_nothing_on_a_page_that_is_about_something_else(
    bench: Client, maker: User, blank: Blank
) -> None:
    address, sent = finishing(blank)
    bench.post(address, sent, headers=outbox(maker))
    assert "is thicknessed" not in bench.get("/rack/").text


def test_a_refusal_and_what_is_to_be_mended(bench: Client, maker: User, blank: Blank) -> None:
    address, sent = finishing(blank)
    wrong = bench.post(address, {**sent, a_box(sent): "one"}, headers=outbox(maker))
    assert outcome(wrong) == (422, sent["tap"], "to-mend")
    blank.hold(make_hand(maker), blank.version, "A shake")
    refused = bench.post(address, sent, headers=outbox(maker))
    assert outcome(refused) == (409, sent["tap"], "refused")
    assert refused.text == f"Ida Bracken has changed {blank.number} since you saw it: held."
    gone = bench.post("/blanks/F9999/hold/", tap(seen=1, reason="x"), headers=outbox(maker))
    assert outcome(gone)[::2] == (404, "refused")
    assert not Tap.objects.filter(pk=sent["tap"]).exists()


def test_other_things_typed_under_the_same_tap_are_refused_in_words(bench: Client, blank: Blank) -> None:
    address, sent = finishing(blank)
    bench.post(address, sent)
    answer = bench.post(address, {**sent, a_box(sent): "8.10"})
    assert outcome(answer) == (422, sent["tap"], "refused")
    assert "is not kept" in answer.text and "8.10" in answer.text
    assert "Send" not in answer.text.split("<main")[1].split("</main")[0], "nobody is asked to do it a second time"
    assert log(blank).filter(kind=Kind.FINISHED).count() == 1
    other_token = bench.post(address, {**sent, "csrfmiddlewaretoken": "x" * 64})
    assert outcome(other_token) == (302, sent["tap"], "done-before")


def test_the_same_tap_from_another_person_or_page(bench: Client, other_bench: Client, blank: Blank) -> None:
    address, sent = finishing(blank)
    bench.post(address, sent)
    assert outcome(other_bench.post(address, sent)) == (400, sent["tap"], "refused")
    assert outcome(bench.post(f"/blanks/{blank.number}/release/", sent)) == (400, sent["tap"], "refused")


def test_nothing_goes_under_another_name(bench: Client, other_bench: Client, maker: User, blank: Blank) -> None:
    address, sent = finishing(blank)
    answer = other_bench.post(address, sent, headers=outbox(maker))
    assert outcome(answer) == (403, sent["tap"], "other-person")
    assert not log(blank).filter(kind=Kind.FINISHED).exists()
    assert outcome(bench.post(address, sent, headers=outbox(maker)))[2] == "done"
    assert log(blank).last().by == maker


def test_after_the_session_has_ended(maker: User, blank: Blank) -> None:
    address, sent = finishing(blank)
    client = Client()
    answer = client.post(address, sent, headers=outbox(maker))
    assert outcome(answer) == (401, sent["tap"], "signed-out")
    assert "sessionid" not in client.cookies, "it is the outbox that keeps it, and nothing else does"
    assert client.get("/outbox/", headers={"Outbox": "later"}).status_code == 401
    client.force_login(maker)
    assert outcome(client.post(address, sent, headers=outbox(maker))) == (204, sent["tap"], "done")


def test_an_old_token_is_no_refusal(maker: User, blank: Blank) -> None:
    address, sent = finishing(blank)
    client = Client(enforce_csrf_checks=True)
    client.force_login(maker)
    assert outcome(client.post(address, sent, headers=outbox(maker))) == (403, sent["tap"], "out-of-date")
    asked = client.get("/outbox/", headers={"Outbox": "later"})
    assert asked.json() == {"who": mark_of(maker), "name": "Ida Bracken", "token": asked.json()["token"]}
    assert "no-store" in asked["Cache-Control"]
    token = {"X-CSRFToken": asked.json()["token"]}
    assert outcome(client.post(address, sent, headers=outbox(maker) | token)) == (204, sent["tap"], "done")


def test_the_demos_account_has_another_mark_than_the_shops(maker: User, settings) -> None:
    here = mark_of(maker)
    settings.SECRET_KEY = "another data folder has another key, so another mark"
    assert mark_of(maker) != here


@pytest.mark.parametrize("tap_sent", ["", "x", "1" * 5000, "\x00"])
def test_without_a_tap_nothing_is_acknowledged(bench: Client, blank: Blank, tap_sent: str) -> None:
    answer = bench.post(f"/blanks/{blank.number}/hold/", {"tap": tap_sent, "seen": 2, "hold-reason": "x"})
    assert outcome(answer) == (400, "", "")


class TestWaited:
    """The log says when the button was pressed, besides when the word of it came."""

    def finish(self, bench: Client, maker: User, blank: Blank, waited: str):
        Blank.objects.filter(pk=blank.pk).update(changed_at=timezone.now() - timedelta(days=400))
        address, sent = finishing(blank)
        assert bench.post(address, sent, headers={**outbox(maker), "Outbox-Waited": waited}).status_code == 204
        return log(blank).last()

    def test_it_works(self, bench: Client, maker: User, blank: Blank) -> None:
        entry = self.finish(bench, maker, blank, "1680")
        assert entry.at - entry.pressed_at == timedelta(minutes=28)
        assert entry.happened_at == entry.pressed_at

    def test_the_page_says_both(self, bench: Client, maker: User, blank: Blank) -> None:
        entry = self.finish(bench, maker, blank, "5400")
        pressed, came = (
            formats.date_format(timezone.localtime(at), "DATETIME_FORMAT") for at in (entry.pressed_at, entry.at)
        )
        page = bench.get(f"/blanks/{blank.number}/").text
        assert f"Ida Bracken, {pressed}; it had to wait, and arrived {came}" in page

    def test_a_board_takes_from_press_to_press_however_they_arrive(self, maker: User) -> None:
        now = timezone.now().replace(hour=12)
        build = make_build()
        for place in range(12):
            board = make_blank(build, hand=make_hand(maker, now - timedelta(days=1)))
            hand = make_hand(maker, now, pressed_at=now - timedelta(minutes=7 * place))
            board.finish(hand, board.version, "thicknessing", good_readings(board))
        assert minutes_from_log("thicknessing") == 7

    @pytest.mark.parametrize("waited", ["", "0", "29", "-60", "1e9", "5184001", "999999999999", "½", "nan"])
    def test_what_cannot_be_meant_is_left_out(self, bench: Client, maker: User, blank: Blank, waited: str) -> None:
        header = "".join(c for c in waited if c.isascii())
        entry = self.finish(bench, maker, blank, header)
        assert entry.pressed_at is None and entry.happened_at == entry.at

    def test_nobody_pressed_before_what_they_saw(self, bench: Client, maker: User, blank: Blank) -> None:
        address, sent = finishing(blank)
        bench.post(address, sent, headers=outbox(maker, waited=3600))
        first, last = log(blank)[1], log(blank).last()
        assert last.pressed_at == first.at


class TestBothVersions:
    def test_of_a_blank(self, bench: Client, other_bench: Client, maker: User, owner: User, blank: Blank) -> None:
        address, sent = finishing(blank)
        other_bench.post(f"/blanks/{blank.number}/hold/", press(blank, **{"hold-reason": "A shake at the heel"}))
        page = bench.post(address, sent)
        assert page.status_code == 409
        assert "Nell Harrow has changed" in page.text and "A shake at the heel" in page.text
        assert sent[a_box(sent)] in page.text
        assert f"It cannot be done on top of that either. {blank.number} is held." in page.text
        assert page.context["fields"] is None

        now = Blank.objects.get(pk=blank.pk)
        other_bench.post(f"/blanks/{blank.number}/release/", press(now))
        page = bench.post(address, sent)
        again = tap(**dict(page.context["fields"]), seen=page.context["seen"])
        assert again["seen"] == 4 and again["tap"] != sent["tap"]
        assert f'name="instead" value="{sent["tap"]}"' in page.text
        assert log(blank).count() == 4, "to look is to change nothing"
        assert bench.post(address, again).status_code == 302
        assert log(blank).last().kind == Kind.FINISHED

    def test_of_a_jig(self, owners_bench: Client, other_bench: Client) -> None:
        jig = make_jig()
        first, second = typed(jig, span="905"), typed(jig, span="901")
        assert other_bench.post(f"/kit/jigs/{jig.pk}/change/", first).status_code == 302
        page = owners_bench.post(f"/kit/jigs/{jig.pk}/change/", second)
        assert page.status_code == 409
        span = next(row for row in page.context["rows"] if row.label.startswith("Span"))
        assert (span.typed, span.kept, span.differ) == ("901", "905.0", True)
        assert f'href="/kit/jigs/{jig.pk}/">Leave {jig} as it is, drop mine' in page.text
        again = tap(**dict(page.context["fields"]), seen=page.context["seen"])
        assert owners_bench.post(f"/kit/jigs/{jig.pk}/change/", again).status_code == 302
        jig.refresh_from_db()
        assert jig.span == 901

    def test_who_stands_at_a_bench_is_led_back_to_it(
        self, bench: Client, other_bench: Client, owner: User, blank: Blank
    ) -> None:
        stage = blank.next_stage
        here = f"/benches/{stage}/"
        seen = Bench.at(stage).version
        assert other_bench.post(f"{here}plan/", tap(seen=seen)).status_code == 302
        page = bench.post(f"{here}plan/", tap(seen=seen))
        assert page.status_code == 409 and f'href="{here}">Drop mine, back to {stage}' in page.text
        other_bench.post(f"/blanks/{blank.number}/hold/", press(blank, **{"hold-reason": "A shake at the heel"}))
        address, sent = finishing(blank)
        page = bench.post(address, {**sent, "then": here})
        assert f'href="{here}">Back to the bench' in page.text
        assert f'href="/blanks/{blank.number}/">Look at {blank.number} as it is now' in page.text
        page = bench.post(address, {**sent, "then": "https://elsewhere.example/benches/"})
        assert "Back to the bench" not in page.text

    def test_a_look_changes_nothing(self, bench: Client, blank: Blank) -> None:
        address, sent = finishing(blank)
        page = bench.post(address, {**sent, "rehearse": "1"})
        assert page.status_code == 409 and "Nothing stands in its way by now." in page.text
        assert log(blank).count() == 2 and not Tap.objects.filter(pk=sent["tap"]).exists()
        bench.post(address, sent)
        page = bench.post(address, {**sent, "rehearse": "1"})
        assert "This was kept when it was sent before." in page.text
        assert log(blank).count() == 3


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_two_deliveries_at_once_are_both_acknowledged() -> None:
    maker, start, answers = make_user("ida"), Barrier(2), []
    blank = make_blank(make_build())
    address, sent = finishing(blank)

    def deliver() -> None:
        client = Client()
        client.force_login(maker)
        start.wait()
        answers.append(client.post(address, sent, headers=outbox(maker)))
        connection.close()

    threads = [Thread(target=deliver) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcome(answer)[2] for answer in answers) == ["done", "done-before"]
    assert {answer.headers["Tap"] for answer in answers} == {str(uuid.UUID(sent["tap"]))}
    assert log(blank).filter(kind=Kind.FINISHED).count() == 1


def test_each_form_of_a_page_has_a_tap_of_its_own(bench: Client, blank: Blank) -> None:
    """Two may be pressed on one page, and wait both."""
    page = bench.get(f"/blanks/{blank.number}/").text
    taps = re.findall(r'name="tap" value="([^"]*)"', page)
    assert len(taps) > 3 and len({uuid.UUID(tap) for tap in taps}) == len(taps)
