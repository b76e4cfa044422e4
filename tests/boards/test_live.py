"""What has left a bench while a page stood open, and what came."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.models import Blank
from shop.models import User
from tests.factories import good_readings, make_blank, make_build, make_hand, make_pattern, make_user

pytestmark = pytest.mark.django_db


def news(client: Client, *numbers: str, stage: str = "radiusing") -> dict:
    answer = client.get(f"/benches/{stage}/news/", {"shown": ",".join(numbers)})
    assert answer.status_code == 200
    return answer.json()


def finish(blank: Blank, by: User) -> None:
    blank.finish(make_hand(by), blank.version, blank.next_stage, good_readings(blank))


def test_it_works(bench: Client, maker: User) -> None:
    pattern = make_pattern()
    stays, goes, comes = make_blank(pattern, done=2), make_blank(pattern, done=2), make_blank(pattern, done=1)
    finish(goes, make_user("ana", first_name="Ana"))
    finish(comes, maker)
    told = news(bench, stays.number, goes.number)
    clock = timezone.localtime(goes.changed_at).strftime("%H:%M")
    assert told == {
        "here": sorted([stays.number, comes.number]),
        "gone": {goes.number: f"Radiused by Ana, {clock}"},
    }


def test_a_page_is_told_whatever_took_a_board_away(bench: Client, maker: User) -> None:
    pattern = make_pattern()
    held, back, scrapped, freed, undone = (make_blank(pattern, done=2) for _ in range(5))
    held.hold(make_hand(), held.version, "A shake")
    back.rework(make_hand(), back.version, "slotting", "Too shallow")
    scrapped.scrap(make_hand(), scrapped.version, "Broken")
    freed.take_off(make_hand(), freed.version)
    undone.undo(make_hand(), undone.version, undone.last_undoable())
    told = news(bench, *(blank.number for blank in (held, back, scrapped, freed, undone)))["gone"]
    for blank, words in (
        (held, "Held by "),
        (back, "Sent back to slotting by "),
        (scrapped, "Scrapped by "),
        (freed, "Taken off by "),
        (undone, "Taken back: slotted by "),
    ):
        assert told[blank.number].startswith(words)


def test_the_last_word_counts(bench: Client, maker: User) -> None:
    """Held, released and then finished by somebody else: finished is what it is now, and measuring moves nothing."""
    blank = make_blank(make_pattern(), done=2)
    blank.hold(make_hand(), blank.version, "A shake")
    blank.release(make_hand(), blank.version)
    finish(blank, make_user("ana", first_name="Ana"))
    blank.measure(make_hand(), blank.version, blank.length, blank.width, blank.thickness)
    assert news(bench, blank.number)["gone"][blank.number].startswith("Radiused by Ana")


def test_a_board_that_is_taken_back_waits_again(bench: Client, maker: User) -> None:
    blank = make_blank(make_pattern(), done=2)
    finish(blank, maker)
    assert blank.number in news(bench, blank.number)["gone"]
    blank.undo(make_hand(), blank.version, blank.last_undoable())
    assert news(bench, blank.number) == {"here": [blank.number], "gone": {}}


def test_another_day_is_named(bench: Client, maker: User) -> None:
    yesterday = timezone.now() - timedelta(days=1)
    blank = make_blank(make_pattern(), done=3, hand=make_hand(at=yesterday))
    day = timezone.localtime(yesterday)
    assert f", {day.day} {day:%b}, " in news(bench, blank.number)["gone"][blank.number]


def test_it_costs_the_same_for_3_boards_and_for_30(bench: Client, maker: User) -> None:
    def queries() -> int:
        numbers = list(Blank.objects.values_list("number", flat=True))
        with CaptureQueriesContext(connection) as captured:
            news(bench, *numbers)
        return len(captured)

    def some(how_many: int) -> None:
        for _ in range(how_many):
            make_blank(build, done=2)
            make_blank(build, done=3)

    build = make_build()
    some(3)
    few = queries()
    some(27)
    assert queries() == few


@pytest.mark.parametrize("nonsense", ["", ",,,", "F9999", "a\x00b", "<script>", "x" * 20_000, "1," * 9000])
def test_nonsense_tells_nothing(bench: Client, maker: User, nonsense: str) -> None:
    blank = make_blank(make_pattern(), done=2)
    assert news(bench, nonsense) == {"here": [blank.number], "gone": {}}


def test_a_board_of_another_bench_is_none_of_its_business(bench: Client, maker: User) -> None:
    blank = make_blank(make_pattern())
    assert news(bench, blank.number) == {"here": [], "gone": {}}
    assert bench.get("/benches/polishing/news/").status_code == 404
