"""The calendar feed, held against RFC 5545, and its secret address."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from hypothesis import example, given, settings
from hypothesis import strategies as st
from icalendar import Calendar as Feed

from boards import calendar as written
from boards.calendar import write_feed
from boards.models import Calendar, KeptForecast
from shop.models import Build, DayOff, Shop
from tests.factories import days_ago, make_blank, make_build, tap

PAGE, CHANGE, CLOSE = "/kit/calendar/", "/kit/calendar/address/", "/kit/calendar/close/"
NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)


def make_address() -> str:
    calendar = Calendar.current()
    calendar.change_address(calendar.version, timezone.now())
    return f"/calendar/{calendar.secret}.ics"


def feed(now: datetime = NOW) -> bytes:
    return write_feed(Calendar.current(), Shop.current(), now=now)


def events(body: bytes) -> dict[str, object]:
    return {str(event["summary"]): event for event in Feed.from_ical(body).walk("VEVENT")}


@pytest.mark.django_db
class TestWhatIsInIt:
    def test_it_works(self, shop: Shop) -> None:
        build = make_build(due_on=date(2026, 12, 18), customer="Somebody")
        make_blank(build)
        DayOff.objects.create(first=date(2026, 12, 24), last=date(2026, 12, 26), why="Midwinter")
        body = feed()
        found = events(body)
        assert set(found) == {
            "B901 Lark, six strings: due",
            "B901 Lark, six strings: boards done, as likely as not",
            "B901 Lark, six strings: boards done, in 85 runs of 100",
            "Day off: Midwinter",
        }
        due, off = found["B901 Lark, six strings: due"], found["Day off: Midwinter"]
        assert due.decoded("dtstart") == date(2026, 12, 18)
        # RFC 5545, 3.6.1: for days, DTEND is the day after the last.
        assert due.decoded("dtend") == date(2026, 12, 19)
        assert (off.decoded("dtstart"), off.decoded("dtend")) == (date(2026, 12, 24), date(2026, 12, 27))
        kept = KeptForecast.objects.get()
        for summary, share in (("as likely as not", "50"), ("in 85 runs of 100", "85")):
            event = found[f"B901 Lark, six strings: boards done, {summary}"]
            assert event.decoded("dtstart").isoformat() == kept.dates[share]
        assert b"Somebody" not in body

    def test_its_form(self, shop: Shop) -> None:
        make_build(due_on=date(2026, 12, 18))
        Shop.objects.update(name="Alder, Ash; & \\ Sons", web_address="https://bench.example")
        body = write_feed(Calendar.current(), Shop.objects.get(), now=NOW)
        calendar = Feed.from_ical(body)
        # RFC 5545, 3.6: PRODID and VERSION once; 3.7.1 and 3.7.2: CALSCALE and METHOD at most once.
        assert [calendar[name] for name in ("version", "calscale", "method")] == ["2.0", "GREGORIAN", "PUBLISH"]
        assert calendar["prodid"]
        # 3.3.11: a comma, a semicolon and a backslash are written with a backslash before them.
        assert b"X-WR-CALNAME:Alder\\, Ash\\; & \\\\ Sons\r\n" in body
        # 3.8.2.4 and 3.3.4: a day is eight digits, and has to be said to be one, as the default is a moment.
        assert b"DTSTART;VALUE=DATE:20261218\r\n" in body and b"DTEND;VALUE=DATE:20261219\r\n" in body
        # 3.6.1: UID and DTSTAMP are required; 3.8.7.2 and 3.8.7.3: both moments in UTC.
        assert len(re.findall(rb"\r\nUID:[0-9a-f-]{36}\r\n", body)) == 1
        assert b"DTSTAMP:20261125T093000Z\r\n" in body and b"LAST-MODIFIED:20261125T093000Z\r\n" in body
        assert b"URL:https://bench.example/builds/B901/\r\n" in body
        # RFC 7986, 5.7: how often to look.
        assert b"REFRESH-INTERVAL;VALUE=DURATION:PT1H\r\n" in body

    def test_an_empty_shop_has_a_calendar_still(self, shop: Shop) -> None:
        # RFC 5545, 3.6: at least one component.
        assert [part.name for part in Feed.from_ical(feed()).subcomponents] == ["VTIMEZONE"]

    def test_nothing_changed_is_the_same_to_the_byte(self, shop: Shop) -> None:
        build = make_build(due_on=date(2026, 12, 18))
        first = feed()
        assert feed(NOW + timedelta(hours=3)) == first
        Build.objects.filter(pk=build.pk).update(due_on=date(2026, 12, 21))
        (before,), (after,) = events(first).values(), events(feed(NOW + timedelta(hours=4))).values()
        assert after["uid"] == before["uid"]
        # RFC 5545, 3.8.7.4: the sequence begins at 0 and goes up by a revision that matters.
        assert (before["sequence"], after["sequence"]) == (0, 1)
        assert after.decoded("last-modified") - before.decoded("last-modified") == timedelta(hours=4)
        Build.objects.filter(pk=build.pk).update(due_on=date(2026, 12, 18))
        (again,) = events(feed(NOW + timedelta(hours=5))).values()
        assert (again["uid"], again["sequence"]) == (before["uid"], 2)

    def test_a_date_is_the_same_behind_a_new_address(self, shop: Shop) -> None:
        make_build(due_on=date(2026, 12, 18))
        first = feed()
        make_address()
        assert feed() == first

    def test_builds_that_are_closed_are_gone(self, shop: Shop) -> None:
        make_build(due_on=date(2026, 12, 18), closed_on=date(2026, 11, 20))
        assert not events(feed())

    def test_the_shop_is_played_through_once_a_day(self, shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
        asked = []
        monkeypatch.setattr(written, "keep_forecasts", lambda shop, *, now: asked.append(now))
        for hours in (0, 1, 2, 24, 25):
            feed(NOW + timedelta(hours=hours))
        assert asked == [NOW, NOW + timedelta(hours=24)]

    def test_costs_the_same_with_many_builds(self, client: Client) -> None:
        address, counts = make_address(), []
        for more in (range(3), range(3, 30)):
            for number in more:
                make_blank(make_build(f"B{number}", due_on=days_ago(-number)))
            client.get(address)
            with CaptureQueriesContext(connection) as queries:
                client.get(address)
            counts.append(len(queries))
        assert counts[0] == counts[1] < 10


# Words that a build's title can hold: all but the NUL, which forms refuse, and halves of surrogate pairs.
TITLES = st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"]), min_size=1, max_size=80)


@pytest.mark.django_db
@settings(max_examples=60)
@given(title=TITLES)
@example("Lark\r\nEND:VEVENT\r\nBEGIN:VEVENT\r\nSUMMARY:Free beer")
@example('a;b,c:d\\n"e"\\;' + "\N{GUITAR}" * 40)
@example("\x85\u2028\u2029\x1b\x7f\tx")
def test_no_title_gets_out_of_its_line(title: str) -> None:
    build = Build(number="B1", title=title, due_on=date(2026, 12, 18))
    days = [written.Day(written.uuid.UUID(int=1), build.due_on, build.due_on, f"{build}: due")]
    event = written._event(days[0], written.CalendarEntry(sequence=0, changed_at=NOW), "")
    shop = Feed()
    shop.add_component(event)
    body = shop.to_ical()
    # RFC 5545, 3.1: lines end with CRLF and are no longer than 75 octets without it; a fold begins with a space.
    assert body.endswith(b"\r\n") and not re.search(rb"(?<!\r)\n|\r(?!\n)", body)
    assert all(len(line) <= 75 for line in body.split(b"\r\n"))
    body.decode()
    assert body.count(b"\r\nBEGIN:VEVENT\r\n") == 1 and body.count(b"\r\nEND:VEVENT\r\n") == 1
    (read,) = Feed.from_ical(body).walk("VEVENT")
    assert str(read["summary"]) == f"B1 {written._plain(title)}: due"
    # 3.3.11: no control character but the tab.
    assert not re.search(rb"[\x00-\x08\x0a-\x1f\x7f]", body.replace(b"\r\n", b""))


@pytest.mark.django_db
class TestAddress:
    def test_is_asked_for_without_signing_in(self, client: Client) -> None:
        make_build(due_on=days_ago(-9))
        answer = client.get(make_address())
        assert answer.status_code == 200 and answer["Content-Type"] == "text/calendar; charset=utf-8"
        assert not answer.cookies and "private" in answer["Cache-Control"]
        assert "B901" in answer.content.decode()

    def test_nothing_new_costs_nothing(self, client: Client) -> None:
        build, address = make_build(due_on=days_ago(-9)), make_address()
        etag = client.get(address)["ETag"]
        again = client.get(address, headers={"If-None-Match": etag})
        assert (again.status_code, again.content) == (304, b"")
        assert not again.cookies and "private" in again["Cache-Control"]
        Build.objects.filter(pk=build.pk).update(title="Wren")
        assert client.get(address, headers={"If-None-Match": etag}).status_code == 200

    @pytest.mark.parametrize("secret", ["x", "A" * 43, "-", "0" * 4000])
    def test_no_other_leads_anywhere(self, client: Client, secret: str) -> None:
        for _ in ("there is none", "there is another"):
            answer = client.get(f"/calendar/{secret}.ics")
            assert answer.status_code == 404 and not answer.cookies
            make_address()

    def test_the_old_one_is_gone_at_once(self, client: Client, other_bench: Client) -> None:
        old = make_address()
        assert client.get(old).status_code == 200
        changed = other_bench.post(CHANGE, tap(seen=1))
        assert (changed.status_code, changed["Location"]) == (302, PAGE)
        assert client.get(old).status_code == 404
        new = f"/calendar/{Calendar.current().secret}.ics"
        assert client.get(new).status_code == 200
        assert new in other_bench.get(PAGE).content.decode()
        other_bench.post(CLOSE, tap(seen=2))
        assert client.get(new).status_code == 404

    def test_the_database_alone_does_not_give_it_away(self, settings: object) -> None:
        make_address()
        calendar = Calendar.current()
        secret = calendar.secret
        assert len(secret) == 43 and secret not in str(Calendar.objects.values())  # 256 bits in letters of 6
        settings.SECRET_KEY = "another-secret-key-that-is-long-enough-for-the-purpose"
        assert Calendar.current().secret != secret

    def test_only_the_owner_changes_it(self, bench: Client) -> None:
        make_address()
        secret = Calendar.current().secret
        assert "Change the address" not in bench.get(PAGE).content.decode()
        assert bench.post(CHANGE, tap(seen=1)).status_code == 403
        assert Calendar.current().secret == secret

    def test_whoever_is_later_is_told(self, other_bench: Client) -> None:
        assert other_bench.post(CHANGE, tap(seen=0)).status_code == 302
        secret = Calendar.current().secret
        assert other_bench.post(CHANGE, tap(seen=0)).status_code == 409
        assert Calendar.current().secret == secret

    @pytest.mark.parametrize("method", ["post", "put", "delete"])
    def test_can_only_be_read(self, client: Client, method: str) -> None:
        assert getattr(client, method)(make_address()).status_code in (403, 405)


@pytest.mark.django_db
def test_the_page(bench: Client, other_bench: Client) -> None:
    assert "The owner can make one" in bench.get(PAGE).content.decode()
    assert "Make an address" in other_bench.get(PAGE).content.decode()
    make_build(due_on=days_ago(-9), title="<b>Lark</b>")
    address = make_address()
    page = bench.get(PAGE).content.decode()
    assert f"http://testserver{address}" in page and 'class="qr"' in page
    assert "&lt;b&gt;Lark&lt;/b&gt;: due" in page
