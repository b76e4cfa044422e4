"""Benches: the boards that are ready for a stage, in groups that share a setup."""

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from django.utils.formats import date_format

from boards.models import Blank
from shop.models import Build, Shop, User
from shop.stages import STAGES
from tests.factories import (
    ON_NECK,
    counts,
    days_ago,
    good_readings,
    make_blank,
    make_build,
    make_hand,
    make_pattern,
    make_route,
    make_species,
    press,
)

pytestmark = pytest.mark.django_db


def runs(client: Client, stage: str) -> list[list[str]]:
    """The numbers of the boards at a bench, setup by setup."""
    answer = client.get(f"/benches/{stage}/")
    return [[board.blank.number for board in run.boards] for run in answer.context["day_plan"].all_runs]


def radius(nut: str, heel: str) -> dict[str, Decimal]:
    return {"radius_nut": Decimal(nut), "radius_heel": Decimal(heel)}


def test_it_works(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(due_on=days_ago(-5)), done=2)
    answer = bench.get(f"/benches/radiusing/?board={blank.number}")
    page = answer.content.decode()
    assert answer.context["board"].blank == blank
    # 6 finished + 0.15 for sanding; the formers of 12 in
    for words in ("Radiusing today", "6.15", "304.8 mm (12 in)", "Radiused, next board", "Riser"):
        assert words in page
    for caution in STAGES["radiusing"].cautions:
        assert caution in page.replace("&#x27;", "'")
    assert runs(bench, "radiusing") == [[blank.number]]


def test_boards_that_share_a_setup_go_through_together(bench: Client, maker: User) -> None:
    twelve = make_pattern("Twelve")
    compound = make_pattern("Compound", **radius("254", "406.4"))
    numbers = [make_blank(spec, done=2).number for spec in (twelve, compound, twelve, compound, twelve)]
    on_neck = make_blank(make_pattern("On the neck", route=make_route(ON_NECK)), done=4).number
    found = runs(bench, "radiusing")
    assert sorted(map(sorted, found)) == sorted(
        [sorted([numbers[0], numbers[2], numbers[4]]), sorted([numbers[1], numbers[3]]), [on_neck]]
    )


def test_radii_that_no_machine_tells_apart_share_a_setup(bench: Client, maker: User) -> None:
    same = [make_pattern(name, **radius(value, value)) for name, value in (("a", "304.8"), ("b", "304.803"))]
    other = make_pattern("c", **radius("304.9", "304.9"))
    for spec in (*same, other):
        make_blank(spec, done=2)
    assert sorted(len(group) for group in runs(bench, "radiusing")) == [1, 2]


def test_the_earliest_due_goes_first(bench: Client, maker: User) -> None:
    undated = make_blank(make_build("B941"), done=2)
    later = make_blank(make_build("B942", due_on=days_ago(-20)), done=2)
    sooner = make_blank(make_build("B943", due_on=days_ago(-2), **radius("254", "254")), done=2)
    late = make_blank(make_build("B944", due_on=days_ago(3), **radius("406.4", "406.4")), done=2)
    stock = make_blank(make_pattern(), done=2)
    assert runs(bench, "radiusing") == [[late.number], [sooner.number], [later.number, undated.number, stock.number]]


@pytest.mark.parametrize("stage", list(STAGES))
def test_every_bench_shows_what_waits_for_it_and_nothing_else(bench: Client, maker: User, stage: str) -> None:
    pattern = make_pattern()
    by_stage = {key: make_blank(pattern, done=place) for place, key in enumerate(STAGES)}
    done = make_blank(pattern, done=5)
    held = make_blank(pattern, done=list(STAGES).index(stage))
    held.hold(make_hand(), held.version, "A shake")
    free = make_blank()
    assert runs(bench, stage) == [[by_stage[stage].number]]
    page = bench.get(f"/benches/{stage}/").content.decode()
    for other in (done, held, free):
        assert f"?board={other.number}" not in page
    assert counts() == dict.fromkeys(STAGES, 1)


def test_an_empty_bench_says_so(bench: Client) -> None:
    for stage in STAGES.values():
        assert f"No board waits for {stage.label.lower()}." in bench.get(f"/benches/{stage.key}/").content.decode()


def test_the_board_that_is_asked_for_is_in_hand(bench: Client, maker: User) -> None:
    pattern = make_pattern()
    first, second = (make_blank(pattern, done=2) for _ in range(2))
    assert bench.get("/benches/radiusing/").context["board"].blank == first
    assert bench.get(f"/benches/radiusing/?board={second.number}").context["board"].blank == second
    for nonsense in ("", "F9999", "x" * 5000, "a\x00b", "<script>"):
        answer = bench.get("/benches/radiusing/", {"board": nonsense})
        assert answer.context["board"].blank == first
        assert "<script>" + "" not in answer.content.decode().replace("<script src", "")


def test_a_board_that_does_not_wait_here_is_not_passed_off_as_the_next(bench: Client, maker: User) -> None:
    elsewhere, here = make_blank(make_pattern("Lark"), done=1), make_blank(make_pattern("Wren"), done=2)
    answer = bench.get(f"/benches/radiusing/?board={elsewhere.number}")
    assert f"{elsewhere.number} does not wait here. This is {here.number}" in answer.content.decode()
    assert "does not wait here" not in bench.get(f"/benches/radiusing/?board={here.number}").content.decode()
    assert "does not wait here" not in bench.get("/benches/radiusing/").content.decode()


def test_the_next_board_comes_up_when_one_is_done(bench: Client, maker: User) -> None:
    pattern = make_pattern()
    first, second = (make_blank(pattern, done=2) for _ in range(2))
    readings = {name: str(value) for name, value in good_readings(first).items()}
    sent = press(first, then="/benches/radiusing/", **readings)
    answer = bench.post(f"/blanks/{first.number}/finish/radiusing/", sent, follow=True)
    assert answer.context["board"].blank == second
    assert [entry.blank for entry in answer.context["done_today"]] == [first]


def test_done_here_today_can_be_taken_back_where_nothing_followed(bench: Client, maker: User) -> None:
    pattern = make_pattern()
    last = make_blank(pattern, done=3)
    gone_on = make_blank(pattern, done=4)
    yesterday = make_hand(at=timezone.now() - timedelta(days=1, hours=1))
    make_blank(pattern, done=3, hand=yesterday)
    page = bench.get("/benches/radiusing/")
    assert {entry.blank for entry in page.context["done_today"]} == {last, gone_on}
    undo = f"/blanks/{last.number}/undo/{last.version}/"
    assert undo in page.content.decode()
    assert f"/blanks/{gone_on.number}/undo/" not in page.content.decode()
    bench.post(undo, press(last, then="/benches/radiusing/"))
    assert {entry.blank for entry in bench.get("/benches/radiusing/").context["done_today"]} == {gone_on}


def test_done_here_today_leaves_out_what_was_sent_back(bench: Client, maker: User) -> None:
    pattern = make_pattern()
    stays, goes = make_blank(pattern, done=3), make_blank(pattern, done=3)
    goes.rework(make_hand(), goes.version, "slotting", "A slot too shallow")
    assert [entry.blank for entry in bench.get("/benches/radiusing/").context["done_today"]] == [stays]
    for _ in range(2):
        goes.finish(make_hand(), goes.version, goes.next_stage, good_readings(goes))
    done = bench.get("/benches/radiusing/").context["done_today"]
    assert [entry.blank for entry in done] == [goes, stays], "once, however often it went through"


def test_today_says_why_boards_are_held(bench: Client, maker: User) -> None:
    def hold(blank: Blank, reason: str) -> None:
        blank.hold(make_hand(), blank.version, reason)

    blank = make_blank(make_build())
    hold(blank, "A shake near the heel")
    with CaptureQueriesContext(connection) as with_one:
        page = bench.get("/").content.decode()
    assert "A shake near the heel" in page
    for _ in range(3):
        hold(make_blank(blank.build), "Cupped")
    with CaptureQueriesContext(connection) as with_four:
        assert bench.get("/").content.decode().count("Cupped") == 3
    assert len(with_four) == len(with_one)
    blank.release(make_hand(), blank.version)
    hold(blank, "A slip")
    for _ in range(2):  # takes back the slip, then the release: the first reason stands
        blank.undo(make_hand(), blank.version, blank.last_undoable())
    page = bench.get("/").content.decode()
    assert "A shake near the heel" in page
    assert "A slip" not in page


def test_a_blank_says_when_its_dust_note_is_from(bench: Client, maker: User) -> None:
    wood = make_species("Padauk", dust_note="Irritates.", dust_note_on=date(2025, 3, 1))
    blank = make_blank(species=wood)
    assert f"Irritates. As of {date_format(wood.dust_note_on)}." in bench.get(f"/blanks/{blank.number}/").text


@pytest.mark.parametrize("stage", ["polishing", "Radiusing", "0", "x" * 500])
def test_there_is_no_such_bench(bench: Client, stage: str) -> None:
    for address in (f"/benches/{stage}/", f"/benches/{stage}/run/"):
        answer = bench.get(address)
        assert answer.status_code == 404
        assert "There is nothing at this address" in answer.content.decode()


def test_the_run_alone_is_the_same_as_on_the_page(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=2)
    alone = bench.get(f"/benches/radiusing/run/?board={blank.number}").content.decode().strip()
    assert alone.startswith('<div id="run"')
    assert alone in bench.get(f"/benches/radiusing/?board={blank.number}").content.decode()


def test_a_board_whose_spec_cannot_be_worked_out_stands_apart(bench: Client, maker: User) -> None:
    good = make_blank(make_build("B951"), done=2)
    bad = make_blank(make_build("B952"), done=2)
    Build.objects.filter(number="B952").update(radius_nut=Decimal(21), radius_heel=Decimal(21))
    for stage in STAGES:
        assert bench.get(f"/benches/{stage}/").status_code == 200
    answer = bench.get("/benches/radiusing/")
    assert runs(bench, "radiusing") == [[good.number]]
    assert f"{bad.number}</a> cannot be worked out" in answer.content.decode()
    assert bench.get(f"/blanks/{bad.number}/").status_code == 200
    answer = bench.post(f"/blanks/{bad.number}/finish/radiusing/", press(bad))
    assert answer.status_code == 409
    assert f"{bad.number} cannot be worked out" in answer.content.decode()
    bad.refresh_from_db()
    assert bad.next_stage == "radiusing", "nothing is radiused to figures that are not there"


def test_a_flat_board_goes_to_every_bench(bench: Client, maker: User) -> None:
    pattern = make_pattern(radius_nut=None, radius_heel=None)
    for place, stage in enumerate(STAGES):
        blank = make_blank(pattern, done=place)
        assert blank.number in bench.get(f"/benches/{stage}/").content.decode()
        Blank.objects.filter(pk=blank.pk).update(next_stage="")


def test_a_fanned_board_goes_to_every_bench(bench: Client, maker: User) -> None:
    pattern = make_pattern(bass_scale=Decimal("685.8"), square_fret=7, nut_width=Decimal(48), heel_width=Decimal(66))
    for place, stage in enumerate(STAGES):
        blank = make_blank(pattern, done=place, length=Decimal(620), width=Decimal(80))
        assert blank.number in bench.get(f"/benches/{stage}/").content.decode()


def test_the_benches_say_what_waits_how_long_it_takes_and_what_goes_first(bench: Client, maker: User) -> None:
    pattern = make_pattern()
    for _ in range(2):
        make_blank(pattern, done=1)
    make_blank(pattern, done=4)
    bad = make_blank(make_build("B971"), done=2)
    Build.objects.filter(number="B971").update(radius_nut=Decimal(21), radius_heel=Decimal(21))
    answer = bench.get("/benches/")
    rows = {
        stage.key: re.sub(r"\s+", " ", re.sub("<[^>]*>", " ", row))
        for (stage, _), row in zip(answer.context["days"], answer.text.split("<tr>")[2:], strict=True)
    }
    assert "Nothing waits" in rows["thicknessing"]
    # nothing is known of what stands, so all of it is set; how long a board takes the log does not tell yet
    shop = Shop.current()
    minutes = shop.scale_minutes + shop.blade_minutes + shop.slot_depth_minutes
    assert re.search(rf"Scale 648.* 2 {minutes} min not known yet", rows["slotting"])
    assert "1 cannot be worked out" in rows["radiusing"] and bad.number
    assert f"1 {shop.cauls_minutes} min {shop.cauls_minutes + shop.clamp_minutes} min" in rows["gluing"]


def test_the_run_says_which_wood_has_not_settled_before_its_first_cut(bench: Client, shop: Shop, maker: User) -> None:
    build = make_build()
    wet, dry = (
        make_blank(build, moisture=Decimal("14.0"), received_on=days_ago(2)),
        make_blank(build, received_on=days_ago(400)),
    )
    page = bench.get("/benches/thicknessing/run/").content.decode()
    row, other = (page[page.index(f'id="run-{blank.number}"') :].partition("</li>")[0] for blank in (wet, dry))
    assert "Moisture not settled." in row and "Moisture" not in other
    begun = make_blank(build, done=1, moisture=Decimal("14.0"), received_on=days_ago(2))
    page = bench.get("/benches/slotting/run/").content.decode()
    assert begun.number in page and "Moisture" not in page, "it is begun: the question is of the past"
