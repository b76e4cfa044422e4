"""Finishing a stage with what was read."""

from decimal import Decimal

import pytest
from django.test import Client

from boards.models import Blank, Kind, LogEntry
from boards.readings import Target
from geometry.units import LengthStyle, format_length
from shop.models import Shop, User
from shop.stages import STAGES
from tests.factories import (
    BY_THE_BOOK,
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


def url(blank: Blank, stage: str) -> str:
    return f"/blanks/{blank.number}/finish/{stage}/"


def payload(blank: Blank, **changes: object) -> dict[str, object]:
    return press(blank, **{name: str(value) for name, value in good_readings(blank).items()}) | changes


def unchanged(blank: Blank) -> bool:
    """Whether the row and the log are as they were when `blank` was fetched."""
    now = Blank.objects.get(pk=blank.pk)
    return now.state == blank.state and now.version == blank.version == now.log.count()


@pytest.fixture
def blank(maker: User) -> Blank:
    return make_blank(make_build())


def test_it_works(bench: Client, blank: Blank, maker: User) -> None:
    answer = bench.post(url(blank, "thicknessing"), payload(blank, then="/benches/thicknessing/"), follow=True)
    assert answer.redirect_chain == [("/benches/thicknessing/", 302)]
    assert f"{blank.number} is thicknessed." in answer.content.decode()
    blank.refresh_from_db()
    assert (blank.done, blank.next_stage, blank.version) == (["thicknessing"], "slotting", 3)
    entry = blank.log.last()
    assert (entry.kind, entry.stage, entry.from_stage, entry.to_stage) == (
        Kind.FINISHED,
        "thicknessing",
        "thicknessing",
        "slotting",
    )
    assert (entry.by, entry.readings, entry.reason) == (maker, {"head": "6.3", "heel": "6.3"}, "")


@pytest.mark.parametrize("route", [BY_THE_BOOK, ON_NECK])
def test_all_stages_in_their_order(bench: Client, maker: User, route: list[str]) -> None:
    blank = make_blank(make_build(route=make_route(route)))
    for stage in route:
        assert bench.get(f"/benches/{stage}/?board={blank.number}").status_code == 200
        assert bench.post(url(blank, stage), payload(blank)).status_code == 302
        blank.refresh_from_db()
    assert blank.done == route
    assert blank.state.finished
    assert [entry.stage for entry in blank.log.filter(kind=Kind.FINISHED)] == route
    assert "All stages are done" in bench.get(f"/blanks/{blank.number}/").content.decode()


def test_a_stage_out_of_turn_is_refused(bench: Client, blank: Blank) -> None:
    for stage in ("slotting", "radiusing", "tapering", "gluing"):
        answer = bench.post(url(blank, stage), payload(blank))
        assert answer.status_code == 409
        assert f"{blank.number} waits for thicknessing, not for {stage}." in answer.content.decode()
        assert unchanged(blank)


def test_a_stage_that_is_done_is_refused(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=2)
    answer = bench.post(url(blank, "thicknessing"), payload(blank))
    assert answer.status_code == 409
    assert "is thicknessed already" in answer.content.decode()
    assert unchanged(blank)


@pytest.mark.parametrize("route", [["radiusing", "slotting"], ["gluing"]])
def test_a_stage_that_its_route_does_not_have_is_refused(bench: Client, maker: User, route: list[str]) -> None:
    blank = make_blank(make_build(route=make_route(route)))
    assert bench.post(url(blank, "tapering"), payload(blank)).status_code == 409
    assert unchanged(blank)


def test_without_a_spec_nothing_can_be_finished(bench: Client, maker: User) -> None:
    blank = make_blank()
    answer = bench.post(url(blank, "thicknessing"), press(blank))
    assert answer.status_code == 409
    assert "waits for nothing" in answer.content.decode()
    assert unchanged(blank)


def test_one_press_delivered_twice_counts_once(bench: Client, blank: Blank) -> None:
    sent = payload(blank)
    first, second = (bench.post(url(blank, "thicknessing"), sent) for _ in range(2))
    assert first.status_code == second.status_code == 302
    assert first["Location"] == second["Location"]
    blank.refresh_from_db()
    assert (blank.done, blank.version, blank.log.count()) == (["thicknessing"], 3, 3)


def test_the_second_delivery_is_harmless_even_when_work_went_on(bench: Client, blank: Blank) -> None:
    sent = payload(blank)
    bench.post(url(blank, "thicknessing"), sent)
    blank.refresh_from_db()
    bench.post(url(blank, "slotting"), payload(blank))
    assert bench.post(url(blank, "thicknessing"), sent).status_code == 302
    blank.refresh_from_db()
    assert blank.done == ["thicknessing", "slotting"]


def test_two_tablets_at_once(bench: Client, other_bench: Client, blank: Blank, owner: User) -> None:
    """Both saw the same board; the second is told by whom it was changed, and keeps what was typed."""
    here, there = payload(blank), payload(blank, head="6.31")
    assert bench.post(url(blank, "thicknessing"), here).status_code == 302
    answer = other_bench.post(url(blank, "thicknessing"), there)
    assert answer.status_code == 409
    text = answer.content.decode()
    assert f"Ida Bracken has changed {blank.number} since you saw it: thicknessed." in text
    assert "<dd>6.31</dd>" in text
    assert blank.log.count() == 3


def test_a_held_or_scrapped_board_is_refused(bench: Client, maker: User) -> None:
    for verb in ("hold", "scrap"):
        blank = make_blank(make_pattern(name=verb))
        readings = payload(blank)
        bench.post(f"/blanks/{blank.number}/{verb}/", press(blank, **{f"{verb}-reason": "A crack"}))
        blank.refresh_from_db()
        answer = bench.post(url(blank, "thicknessing"), {**readings, **press(blank)})
        assert answer.status_code == 409
        assert unchanged(blank)


# Readings


def asked_of(answer: object) -> set[str]:
    return {question.field for question in answer.context["finish_form"].questions}


def test_what_is_not_measured_is_asked_about_and_can_be_confirmed(bench: Client, blank: Blank) -> None:
    answer = bench.post(url(blank, "thicknessing"), payload(blank, head=""))
    assert answer.status_code == 422
    (question,) = answer.context["finish_form"].questions
    assert question.words == "Not measured: Thickness, head end."
    assert answer.context["finish_form"]["heel"].value() == "6.30"
    assert unchanged(blank)
    assert bench.post(url(blank, "thicknessing"), payload(blank, head="", sure=question.key)).status_code == 302
    entry = blank.log.last()
    assert entry.readings == {"heel": "6.3"}
    assert entry.reason == "Not measured: Thickness, head end."


def test_what_lies_outside_the_tolerance_is_asked_about(bench: Client, blank: Blank) -> None:
    # 6 finished + 0.15 for sanding + 0.15 skim = 6.30, give or take the shop's 0.1
    for reading in ("6.19", "6.41", "5", "63", "6.4000001 in", "0"):
        answer = bench.post(url(blank, "thicknessing"), payload(blank, heel=reading))
        assert answer.status_code == 422, reading
        assert asked_of(answer) == {"heel"}
        assert answer.context["finish_form"]["heel"].value() == reading
        assert unchanged(blank)
    (question,) = answer.context["finish_form"].questions
    assert question.words == "Thickness, heel end is 0.00 mm; it should be 6.30 mm ± 0.10 mm."


def test_a_tolerance_stands_in_decimals_where_lengths_are_fractions(bench: Client, shop: Shop, blank: Blank) -> None:
    shop.lengths = "fraction"
    shop.save()
    shown = bench.get("/benches/thicknessing/").content.decode()
    assert "± 0.004 in" in shown  # 0.1 mm
    answer = bench.post(url(blank, "thicknessing"), payload(blank, head="6.3 mm", heel="3 mm"))
    (question,) = answer.context["finish_form"].questions
    assert question.words.endswith("± 0.004 in.")


def test_a_tick_does_not_cover_another_reading(bench: Client, blank: Blank) -> None:
    answer = bench.post(url(blank, "thicknessing"), payload(blank, heel="6.5"))
    (question,) = answer.context["finish_form"].questions
    answer = bench.post(url(blank, "thicknessing"), payload(blank, heel="5.5", sure=question.key))
    assert answer.status_code == 422
    assert unchanged(blank)
    assert bench.post(url(blank, "thicknessing"), payload(blank, heel="6.5", sure=question.key)).status_code == 302
    assert "Thickness, heel end is 6.50 mm" in blank.log.last().reason


def test_a_tick_does_not_cover_another_missing_reading(bench: Client, blank: Blank) -> None:
    answer = bench.post(url(blank, "thicknessing"), payload(blank, head=""))
    (question,) = answer.context["finish_form"].questions
    assert bench.post(url(blank, "thicknessing"), payload(blank, heel="", sure=question.key)).status_code == 422
    assert unchanged(blank)


def test_a_form_that_asks_back_still_leads_to_the_bench_that_it_came_from(bench: Client, blank: Blank) -> None:
    sent = payload(blank, head="", then="/benches/thicknessing/")
    page = bench.post(url(blank, "thicknessing"), sent).content.decode()
    assert '<input type="hidden" name="then" value="/benches/thicknessing/">' in page


def test_the_log_names_readings_in_words_and_in_the_shops_unit(bench: Client, shop: Shop, maker: User) -> None:
    blank = make_blank(make_pattern(), done=3)
    page = bench.get(f"/blanks/{blank.number}/").content.decode()
    assert "head 6.30 mm, heel 6.30 mm" in page and "head treble " in page
    shop.lengths = "inch"
    shop.save()
    assert "head 0.248 in, heel 0.248 in" in bench.get(f"/blanks/{blank.number}/").content.decode()


def test_the_limits_belong_to_the_tolerance(bench: Client, maker: User) -> None:
    pattern = make_pattern()
    for reading in ("6.2", "6.4", "6.200000", '0.25"'):
        blank = make_blank(pattern)
        assert bench.post(url(blank, "thicknessing"), payload(blank, head=reading)).status_code == 302, reading
    assert Target("x", "x", "", 6.65, 0.1).is_met_by(Decimal("6.75"))
    for value in (4.0165491923413725, 3.834363232217345, 3.6250144015478556):
        target, shown = Target("x", "x", "", value, 0.1), Decimal(format_length(value, LengthStyle.MM, with_unit=False))
        assert all(target.is_met_by(shown + off) for off in (Decimal("0.1"), Decimal("-0.1")))
        assert not any(target.is_met_by(shown + off) for off in (Decimal("0.11"), Decimal("-0.11")))


@pytest.mark.parametrize(
    "bad", ["-6.3", "NaN", "inf", "1e400", "six", "6,3,0", "9" * 50, "<b>6.3</b>", "1/0", "6.3 ft"]
)
def test_what_is_no_reading_is_refused_beside_its_field(bench: Client, blank: Blank, bad: str) -> None:
    answer = bench.post(url(blank, "thicknessing"), payload(blank, heel=bad, sure=["heel=" + bad, "missing=heel"]))
    assert answer.status_code == 422
    form = answer.context["finish_form"]
    assert set(form.errors) == {"heel"}
    assert form["heel"].value() == bad
    assert form["head"].value() == "6.30"
    assert "<b>6.3</b>" not in answer.content.decode()
    assert unchanged(blank)


def test_sides_that_differ_show_a_curve_off_the_centreline(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=2)
    good = good_readings(blank)
    answer = bench.post(url(blank, "radiusing"), payload(blank, head_bass=good["head_treble"] + 2))
    assert answer.status_code == 422
    assert asked_of(answer) == {"head_bass", "head_sides"}
    words = answer.content.decode()
    assert "At the head the bass side is 2.00 mm thicker" in words
    assert unchanged(blank)


def test_corners_are_not_asked_for_once_they_are_gone(bench: Client, maker: User) -> None:
    route = make_route(["thicknessing", "tapering", "radiusing", "slotting", "gluing"])
    assert set(good_readings(make_blank(make_build(route=route), done=2))) == {"centre"}
    on_neck = make_blank(make_build("B902", route=make_route(ON_NECK)), done=4)
    assert good_readings(on_neck) == {}
    assert bench.post(url(on_neck, "radiusing"), press(on_neck)).status_code == 302


# Tampered requests


@pytest.mark.parametrize(
    ("changes", "status"),
    [
        ({"tap": ""}, 400),
        ({"tap": "nonsense"}, 400),
        ({"tap": "9" * 10_000}, 400),
        ({"seen": ""}, 400),
        ({"seen": "two"}, 400),
        ({"seen": "-1"}, 400),
        ({"seen": "2.0"}, 400),
        ({"seen": "²"}, 400),
        ({"seen": "1e3"}, 400),
        ({"seen": "9" * 30}, 400),
        ({"seen": "0"}, 409),
        ({"seen": "1"}, 409),
        ({"seen": "3"}, 409),
        ({"seen": "999999999"}, 409),
    ],
)
def test_a_tampered_form_changes_nothing(bench: Client, blank: Blank, changes: dict[str, str], status: int) -> None:
    answer = bench.post(url(blank, "thicknessing"), payload(blank, **changes))
    assert answer.status_code == status
    assert "<h1>" in answer.content.decode()
    assert unchanged(blank)
    assert LogEntry.objects.count() == 2


def test_missing_keys_change_nothing(bench: Client, blank: Blank) -> None:
    whole = payload(blank)
    for key in ("tap", "seen"):
        answer = bench.post(url(blank, "thicknessing"), {k: v for k, v in whole.items() if k != key})
        assert answer.status_code == 400
        assert "Open the page again" in answer.content.decode()
    assert bench.post(url(blank, "thicknessing"), {}).status_code == 400
    assert unchanged(blank)


@pytest.mark.parametrize("stage", ["polishing", "Thicknessing", "done", "x" * 300, "0"])
def test_an_unknown_stage_is_refused(bench: Client, blank: Blank, stage: str) -> None:
    answer = bench.post(url(blank, stage), payload(blank))
    assert answer.status_code == 409
    assert "There is no stage" in answer.content.decode()
    assert unchanged(blank)


def test_keys_that_no_form_has_are_not_kept(bench: Client, blank: Blank) -> None:
    extra = {
        "stage": "gluing",
        "readings": "x",
        "at": "1800-01-01",
        "by": "1",
        "reason": "x",
        "done": "[]",
        "nope": "1",
    }
    assert bench.post(url(blank, "thicknessing"), payload(blank, **extra)).status_code == 302
    entry = blank.log.last()
    assert (entry.stage, entry.reason, set(entry.readings)) == ("thicknessing", "", {"head", "heel"})


@pytest.mark.parametrize(
    "elsewhere",
    ["https://example.org/", "//example.org/", "javascript:alert(1)", "\\\\example.org", "x", "/\\example.org"],
)
def test_it_never_goes_on_to_another_site(bench: Client, blank: Blank, elsewhere: str) -> None:
    answer = bench.post(url(blank, "thicknessing"), payload(blank, then=elsewhere))
    assert answer["Location"] == f"/blanks/{blank.number}/"


def test_a_stage_is_finished_by_a_press_only(bench: Client, blank: Blank) -> None:
    answer = bench.get(url(blank, "thicknessing"))
    assert (answer.status_code, answer["Allow"]) == (405, "POST")
    assert f'href="/blanks/{blank.number}/">Look at {blank.number}</a>' in answer.content.decode()
    assert unchanged(blank)


def test_an_unknown_blank_is_not_found(bench: Client, blank: Blank) -> None:
    answer = bench.post("/blanks/F9999/finish/thicknessing/", payload(blank))
    assert answer.status_code == 404
    assert "A number may be mistyped" in answer.content.decode()


def test_every_stage_has_readings_or_says_why_not(maker: User, shop: Shop) -> None:
    blank = make_blank(make_build())
    for stage in STAGES:
        assert blank.next_stage == stage
        readings = good_readings(blank)
        assert readings
        blank.finish(make_hand(), blank.version, stage, readings)
