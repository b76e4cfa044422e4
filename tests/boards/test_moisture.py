"""Reading moisture on the pages: one blank, many at once, and the question before a first cut too early."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.models import Blank, LogEntry, MoistureReading
from boards.models.moisture import Way, note_readings
from boards.settled import Settled
from shop.models import Shop, User
from shop.models.air import AirReading
from tests.factories import (
    days_ago,
    good_readings,
    make_blank,
    make_blanks,
    make_build,
    make_hand,
    make_species,
    press,
    tap,
)

pytestmark = pytest.mark.django_db

HOSTILE = ["NaN", "inf", "1e400", "-1", "9" * 5000, "a\x00b", "🪵", "8,5,5", "1/2", "201", "0.123"]


@pytest.fixture
def air(maker: User) -> None:
    at = timezone.now() - timedelta(days=1)
    AirReading(at=at, temperature=20, humidity=45, by=maker, written_at=at).save()


def read(blank: Blank, ago: int, percent: str, hand: Any = None) -> None:
    at = timezone.now() - timedelta(days=ago)
    typed = {"way": Way.METER, "percent": Decimal(percent)}
    note_readings(hand or make_hand(), Shop.current(), [(blank, typed)], at=at)


def typed(**changes: Any) -> dict[str, Any]:
    values = {"percent": "9.4", "grams": "", "on": str(days_ago(0)), "remark": ""}
    return tap(**{f"moisture-{name}": value for name, value in {**values, **changes}.items()})


# One blank


def test_it_works(bench: Client, air: None) -> None:
    blank = make_blank(received_on=days_ago(12))
    answer = bench.post(f"/blanks/{blank.number}/moisture/", typed(percent="9,4 %"), follow=True)
    assert answer.status_code == 200
    assert answer.redirect_chain == [(f"/blanks/{blank.number}/#moisture", 302)]
    page = answer.content.decode()
    assert "Nearly settled: 9.4 %" in page
    assert "the shop&#x27;s air makes 8.5 %" in page
    assert "<svg" in page.split('id="moisture"')[1]
    (reading,) = MoistureReading.objects.all()
    assert (reading.percent, reading.way, reading.by.username) == (Decimal("9.4"), Way.METER, "maker")


def test_a_press_counts_once(bench: Client, air: None) -> None:
    blank, form = make_blank(received_on=days_ago(12)), typed()
    for _ in range(2):
        assert bench.post(f"/blanks/{blank.number}/moisture/", form).status_code == 302
    assert MoistureReading.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"percent": ""}, "Fill in what the meter shows, or the weight."),
        ({"percent": "", "grams": "0"}, "It cannot be zero."),
        ({"dry": "on", "percent": ""}, "Say what it weighs dry."),
        ({"dry": "on", "grams": "400"}, "leave this empty"),
        ({"on": str(days_ago(-1))}, "still to come"),
        ({"on": str(days_ago(13))}, "It came in on"),
        ({"on": "yesterday"}, "That is not a day."),
        ({"remark": "x" * 121}, "120 is the most"),
        ({"percent": "17"}, "usual is 5 to 14 %"),
        ({"percent": "4.9"}, "usual is 5 to 14 %"),
        *[({"percent": text}, "errorlist") for text in HOSTILE],
        *[({"percent": "", "grams": text}, "errorlist") for text in HOSTILE if text not in ("201", "0.123")],
    ],
)
def test_what_cannot_be_kept_is_said_and_stays(bench: Client, air: None, changes: dict[str, str], words: str) -> None:
    blank = make_blank(received_on=days_ago(12))
    answer = bench.post(f"/blanks/{blank.number}/moisture/", typed(**changes))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not MoistureReading.objects.exists()


def test_a_jump_is_asked_about(bench: Client, air: None) -> None:
    blank = make_blank(received_on=days_ago(12), moisture=Decimal("12.9"))
    answer = bench.post(f"/blanks/{blank.number}/moisture/", typed(percent="9.8"))
    assert answer.status_code == 422
    (question,) = answer.context["form"].questions
    assert question.words == f"{blank.number} reads 9.8 %, and read 12.9 % last."
    answer = bench.post(f"/blanks/{blank.number}/moisture/", {**typed(percent="9.8"), "sure": question.key})
    assert answer.status_code == 302


def test_a_reading_is_taken_back_by_name(bench: Client, other_bench: Client, air: None) -> None:
    blank = make_blank(received_on=days_ago(12))
    read(blank, 2, "18.4")
    entry = MoistureReading.objects.get()
    back = f"/blanks/{blank.number}/moisture/{entry.pk}/take-back/"
    page = other_bench.post(back, tap(), follow=True).content.decode()
    assert "Taken back by Nell Harrow" in page
    assert "Not known: never read" in page
    answer = bench.post(back, tap())
    assert answer.status_code == 409
    assert "already" in answer.content.decode()
    assert bench.post(f"/blanks/{make_blank().number}/moisture/{entry.pk}/take-back/", tap()).status_code == 404


def test_the_blanks_page_draws_its_curve(bench: Client, air: None) -> None:
    blank = make_blank(received_on=days_ago(30), moisture=Decimal("13.5"))
    for ago, percent in ((23, "12.4"), (16, "11.6"), (9, "10.9"), (1, "10.3")):
        read(blank, ago, percent)
    page = bench.get(f"/blanks/{blank.number}/").content.decode()
    assert "Expected about " in page
    assert "9 times of 10" in page
    assert bench.get(f"/blanks/{blank.number}/moisture/").status_code == 200


# Many at once


def test_a_box_is_read_in_one_go(bench: Client, air: None) -> None:
    box = make_blanks(20, received_on=days_ago(3), lot="box 4")
    other = make_blank(received_on=days_ago(3))
    form = tap(
        way="meter",
        **{f"b{blank.pk}": f"{10.9 + k / 5:.1f}" for k, blank in enumerate(box[:3])},
        n0=other.number.lower(),
        v0="8,6",
    )
    answer = bench.post("/rack/resting/?q=box+4", form)
    assert (answer.status_code, answer["Location"]) == (302, "/rack/resting/?q=box+4")
    assert MoistureReading.objects.count() == 4
    page = bench.get("/rack/resting/?state=unknown").content.decode()
    assert "3 of the 20 of its lot read 10.9 to 11.3 %." in page


def test_by_the_scales(bench: Client, air: None) -> None:
    blank = make_blank(received_on=days_ago(3))
    assert bench.post("/rack/resting/", tap(way="weight", **{f"b{blank.pk}": "412,35 g"})).status_code == 302
    reading = MoistureReading.objects.get()
    assert (reading.way, reading.grams) == (Way.WEIGHT, Decimal("412.35"))


@pytest.mark.parametrize("text", HOSTILE)
def test_one_bad_box_keeps_none_and_loses_none(bench: Client, air: None, text: str) -> None:
    good, bad = make_blanks(2, received_on=days_ago(3))
    answer = bench.post("/rack/resting/", tap(way="meter", **{f"b{good.pk}": "9.1", f"b{bad.pk}": text}))
    assert answer.status_code == 422
    assert not MoistureReading.objects.exists()
    assert f"b{bad.pk}" in answer.context["form"].errors
    assert 'value="9.1"' in answer.content.decode()


@pytest.mark.parametrize(
    ("typed_in", "words"),
    [
        ({}, "No reading is filled in."),
        ({"n0": "F9999", "v0": "9"}, "There is no blank F9999."),
        ({"n0": "🪵" * 24, "v0": "9"}, "There is no blank"),
        ({"n0": "x" * 5000, "v0": "9"}, "24 is the most"),
        ({"n0": "a\x00b", "v0": "9"}, "cannot be kept"),
        ({"v0": "9"}, "Say which blank that is."),
        ({"n0": "F0001"}, "Fill in what it reads."),
        ({"n0": "F0001", "v0": "9", "n1": "f0001", "v1": "9"}, "stands above already"),
        ({"way": "guess", "n0": "F0001", "v0": "9"}, "not one of the choices"),
        ({"b99999999999999999999": "9", "bx": "9", "b-1": "9"}, "No reading is filled in."),
    ],
)
def test_others_by_their_numbers(bench: Client, air: None, typed_in: dict[str, str], words: str) -> None:
    make_blank(received_on=days_ago(3))
    answer = bench.post("/rack/resting/", tap(**{"way": "meter", **typed_in}))
    assert answer.status_code == 422
    assert words in answer.content.decode()


def test_a_blank_that_left_the_page_meanwhile_is_still_read(bench: Client, air: None) -> None:
    blank = make_blank(received_on=days_ago(3))
    answer = bench.post("/rack/resting/?state=settled", tap(way="meter", **{f"b{blank.pk}": "9.1"}))
    assert answer.status_code == 302
    assert MoistureReading.objects.get().blank == blank


def test_the_queue(bench: Client, air: None) -> None:
    """By where they stand, those longest not read first."""
    never = make_blank(received_on=days_ago(5))
    wet, wetter, near, settled = make_blanks(4, received_on=days_ago(20))
    read(wet, 3, "11.0")
    read(wetter, 6, "12.0")
    read(near, 2, "9.0")
    read(settled, 15, "8.6")
    read(settled, 2, "8.5")
    composite = make_blank(species=make_species("Pressed paper", composite=True))
    scrapped = make_blank()
    scrapped.scrap(make_hand(), scrapped.version, "Split")
    make_blank(make_build(), done=1)

    def shown(**asked: str) -> list[str]:
        return [row.blank.number for row in bench.get("/rack/resting/", asked).context["rows"]]

    assert shown() == [blank.number for blank in (never, wetter, wet, near)]
    assert shown(state="not") == [wetter.number, wet.number]
    assert shown(state="settled") == [settled.number]
    assert shown(state="no need") == [composite.number]
    assert shown(q=never.number) == [never.number]
    answer = bench.get("/rack/resting/")
    assert dict(answer.context["counts"]) == {
        **{Settled.NOT: 2, Settled.NEARLY: 1, Settled.UNKNOWN: 1, Settled.SETTLED: 1, Settled.NO_NEED: 1}
    }
    assert "3.5 % above what the air makes" in answer.content.decode()


@pytest.mark.parametrize("query", ["?state=nonsense", "?page=1e400", "?q=" + "x" * 3000, "?q=a%00b", "?page=-1"])
def test_a_question_that_makes_no_sense_breaks_nothing(bench: Client, air: None, query: str) -> None:
    make_blank()
    assert bench.get("/rack/resting/" + query).status_code == 200


def test_the_queue_costs_the_same_at_3_rows_and_at_30(bench: Client, air: None) -> None:
    def fill(how_many: int) -> None:
        for blank in make_blanks(how_many, received_on=days_ago(5), lot="box 4"):
            read(blank, 1, "11.5")
        make_blanks(how_many, received_on=days_ago(5), lot="box 4")

    def queries(page: str) -> int:
        with CaptureQueriesContext(connection) as captured:
            assert bench.get(page).status_code == 200
        return len(captured)

    pages = ["/rack/resting/?state=unknown", "/rack/resting/?state=not", "/blanks/F0001/moisture/"]
    fill(3)
    few = {page: queries(page) for page in pages}
    fill(27)
    assert {page: queries(page) for page in pages} == few
    assert max(few.values()) < 20


# Too early


@pytest.fixture
def moist(air: None) -> Blank:
    """A blank of a build that waits for thicknessing, 2.7 % above what the air makes."""
    blank = make_blank(make_build(), received_on=days_ago(12))
    read(blank, 1, "11.2")
    return blank


def finish(client: Client, blank: Blank, **more: Any) -> Any:
    readings = {name: str(value) for name, value in good_readings(blank).items()}
    return client.post(f"/blanks/{blank.number}/finish/{blank.next_stage}/", press(blank, **readings, **more))


def test_a_cut_before_it_is_settled_is_asked_about_and_kept(bench: Client, moist: Blank) -> None:
    answer = finish(bench, moist)
    assert answer.status_code == 422
    (question,) = answer.context["finish_form"].questions
    assert question.words.startswith("Not settled: 11.2 % on ")
    assert "the shop's air makes 8.5 %" in question.words
    assert LogEntry.objects.filter(blank=moist, kind="finished").count() == 0
    assert finish(bench, moist, sure=question.key).status_code == 302
    moist.refresh_from_db()
    assert moist.done == ["thicknessing"]
    assert moist.log.get(kind="finished").reason == question.words
    # Once it is begun the caution stays in sight, but nobody is asked again.
    assert "Not settled: 11.2 %" in bench.get(f"/blanks/{moist.number}/").content.decode()
    assert finish(bench, moist).status_code == 302


def test_a_tick_does_not_cover_another_reading(bench: Client, moist: Blank) -> None:
    key = finish(bench, moist).context["finish_form"].questions[0].key
    read(moist, 0, "12.0")
    moist.refresh_from_db()
    assert finish(bench, moist, sure=key).status_code == 422


def test_the_bench_and_the_blank_say_the_number(bench: Client, moist: Blank) -> None:
    for page in (f"/benches/thicknessing/?board={moist.number}", f"/blanks/{moist.number}/"):
        assert "Not settled: 11.2 % on" in bench.get(page).content.decode(), page


def test_who_has_rested_or_settled_is_not_asked(bench: Client, air: None) -> None:
    build = make_build()
    rested = make_blank(build, received_on=days_ago(60))
    settled = make_blank(build, received_on=days_ago(12))
    read(settled, 9, "8.7")
    read(settled, 1, "8.6")
    pressed = make_blank(build, species=make_species("Pressed paper", composite=True), received_on=days_ago(0))
    for blank in (rested, settled, pressed):
        assert finish(bench, blank).status_code == 302, blank


def test_one_that_nobody_has_read_and_has_not_rested_is_asked_about(bench: Client, air: None) -> None:
    blank = make_blank(make_build(), received_on=days_ago(12))
    (question,) = finish(bench, blank).context["finish_form"].questions
    assert question.words.startswith("Not known: never read; in the shop for 12 days. The shop lets wood rest 28 days.")
