"""Taking back the last thing that happened. Nothing is deleted."""

import pytest
from django.test import Client
from django.utils import timezone

from boards.models import Blank, Kind, LogEntry
from shop.models import Build, Refused, User
from tests.factories import (
    ON_NECK,
    good_readings,
    make_blank,
    make_build,
    make_hand,
    make_pattern,
    make_route,
    press,
)

pytestmark = pytest.mark.django_db


def undo(client: Client, blank: Blank, entry: LogEntry, **changes: object) -> object:
    return client.post(f"/blanks/{blank.number}/undo/{entry.number}/", press(blank) | changes)


def test_it_works(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=1)
    before, count = blank.state, blank.log.count()
    blank.finish(make_hand(), blank.version, "slotting", good_readings(blank))
    slip = blank.log.last()
    page = bench.get(f"/blanks/{blank.number}/").content.decode()
    assert f"/blanks/{blank.number}/undo/{slip.number}/" in page
    assert undo(bench, blank, slip).status_code == 302
    blank.refresh_from_db()
    assert blank.state == before
    assert blank.log.count() == count + 2, "what was tapped and its taking back both stand in the log"
    entry = blank.log.last()
    assert (entry.kind, entry.undoes, entry.by, entry.to_stage) == (Kind.UNDONE, slip, maker, "slotting")
    assert entry.words == "Taken back: slotted"


@pytest.mark.parametrize("what", ["put_to", "take_off", "finish", "hold", "release", "rework", "scrap"])
def test_each_thing_that_a_tap_does_can_be_taken_back(bench: Client, maker: User, what: str) -> None:
    hand, pattern = make_hand(), make_pattern()
    blank = make_blank(None if what == "put_to" else pattern, done=0 if what == "put_to" else 2)
    if what == "release":
        blank.hold(hand, blank.version, "A crack")
    before = blank.state
    arguments = {
        "put_to": [pattern],
        "finish": ["radiusing", good_readings(blank)] if what == "finish" else [],
        "hold": ["A crack"],
        "rework": ["thicknessing", "Snipe"],
        "scrap": ["A crack"],
    }
    getattr(blank, what)(hand, blank.version, *arguments.get(what, []))
    assert blank.state != before
    assert undo(bench, blank, blank.log.last()).status_code == 302
    blank.refresh_from_db()
    assert blank.state == before


def test_one_after_another_back_to_the_day_it_came_in(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=3)
    while (entry := blank.last_undoable()) is not None:
        assert undo(bench, blank, entry).status_code == 302
        blank.refresh_from_db()
    assert (blank.spec, blank.done, blank.condition) == (None, [], "active")
    assert [entry.kind for entry in blank.log.all()] == [
        *(Kind.RECEIVED, Kind.ASSIGNED, Kind.FINISHED, Kind.FINISHED, Kind.FINISHED),
        *[Kind.UNDONE] * 4,
    ]
    assert "Take it back" not in bench.get(f"/blanks/{blank.number}/").content.decode()


def test_only_the_last_thing(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=3)
    for entry in list(blank.log.all())[:-1]:
        answer = undo(bench, blank, entry)
        assert answer.status_code == 409
        assert "only the last thing can be taken back" in answer.content.decode()
    assert Blank.objects.get(pk=blank.pk).version == blank.version == blank.log.count()


def test_a_thing_is_taken_back_once(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=2)
    slip = blank.log.last()
    undo(bench, blank, slip)
    blank.refresh_from_db()
    assert undo(bench, blank, slip).status_code == 409
    assert blank.log.count() == 5


def test_a_double_tap_takes_back_one_thing(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=2)
    slip, sent = blank.log.last(), press(blank)
    for _ in range(2):
        assert undo(bench, blank, slip, **sent).status_code == 302
    blank.refresh_from_db()
    assert blank.done == ["thicknessing"]


def test_measuring_in_between_does_not_stand_in_the_way(maker: User) -> None:
    blank, hand = make_blank(make_build(), done=1), make_hand()
    slip = blank.log.last()
    blank.measure(hand, blank.version, blank.length, blank.width, blank.thickness)
    assert blank.last_undoable() == slip
    blank.undo(hand, blank.version, slip)
    assert blank.done == []


def test_an_entry_of_another_blank(bench: Client, maker: User) -> None:
    pattern = make_pattern()
    blank, other = make_blank(pattern, done=1), make_blank(pattern, done=3)
    assert undo(bench, blank, other.log.last()).status_code == 404
    with pytest.raises(Refused):
        blank.undo(make_hand(), blank.version, other.log.last())
    assert blank.log.count() == 3
    assert other.log.count() == 5


@pytest.mark.parametrize("number", ["0", "99", "99999999999999999999999999"])
def test_an_entry_that_is_not_there(bench: Client, maker: User, number: str) -> None:
    blank = make_blank(make_build())
    assert bench.post(f"/blanks/{blank.number}/undo/{number}/", press(blank)).status_code == 404
    assert blank.log.count() == 2


def test_it_is_taken_back_as_it_was_seen(bench: Client, other_bench: Client, maker: User, owner: User) -> None:
    blank = make_blank(make_build(), done=1)
    slip, sent = blank.log.last(), press(blank)
    blank.finish(make_hand(owner), blank.version, "slotting", good_readings(blank))
    answer = undo(bench, blank, slip, **sent)
    assert answer.status_code == 409
    assert f"Nell Harrow has changed {blank.number} since you saw it: slotted." in answer.content.decode()


def test_nothing_goes_back_to_a_build_that_is_closed(bench: Client, maker: User) -> None:
    build = make_build("B908")
    blank = make_blank(build, done=1)
    blank.take_off(make_hand(maker), blank.version)
    Build.objects.filter(pk=build.pk).update(state="delivered", closed_on=timezone.localdate())
    answer = bench.post(f"/blanks/{blank.number}/undo/{blank.version}/", press(blank))
    assert answer.status_code == 409
    assert "which is closed" in answer.content.decode()
    blank.refresh_from_db()
    assert blank.build is None


def test_nothing_goes_back_to_a_build_by_a_route_that_it_has_left(bench: Client, maker: User) -> None:
    build = make_build("B909")
    blank = make_blank(build)
    blank.take_off(make_hand(maker), blank.version)
    build.route = make_route(ON_NECK)
    build.save()
    answer = bench.post(f"/blanks/{blank.number}/undo/{blank.version}/", press(blank))
    assert answer.status_code == 409
    assert "put it there anew" in answer.content.decode()
