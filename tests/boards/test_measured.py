"""Readings of one stage feed the next: what was read of a blank stands in the place of what was planned."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.figures import Worked, worked, worked_many
from boards.management.commands.check_log import troubles
from boards.models import Blank, LogEntry
from boards.readings import targets
from boards.routing import steps_of
from boards.sheets import Occasion, traveller_sheets
from geometry.result import Result
from shop.models import Shop, User
from tests.factories import ON_NECK, good_readings, make_blank, make_build, make_hand, make_pattern, make_route

pytestmark = pytest.mark.django_db

LATE = ["thicknessing", "radiusing", "slotting", "tapering", "gluing"]


@pytest.fixture
def shop() -> Shop:
    return Shop.current()


def figures(blank: Blank, shop: Shop) -> Worked:
    return worked(Blank.objects.with_spec().get(pk=blank.pk), shop)


def planned(blank: Blank, shop: Shop) -> Result:
    return worked(Blank.objects.with_spec().get(pk=blank.pk), shop, as_planned=True).result


def finish(blank: Blank, **readings: Any) -> None:
    """Finish the stage that it waits for with some readings as said; None leaves one out."""
    said = {name: value and Decimal(value) for name, value in readings.items()}
    blank.finish(make_hand(), blank.version, blank.next_stage, good_readings(blank, **said))


def rework(blank: Blank, stage: str) -> None:
    blank.rework(make_hand(), blank.version, stage, "Look again")


def aims(blank: Blank, shop: Shop) -> dict[str, float]:
    board = figures(blank, shop)
    asked = targets(blank.next_stage, board.blank, board.request, board.result, shop)
    return {target.key: target.value for target in asked}


def test_the_saw_goes_by_the_thickness_that_was_read(maker: User, shop: Shop) -> None:
    """6.3 was planned; read 0.08 and 0.05 thicker, it is sawn deeper, so that the floor lies where it must."""
    blank = make_blank(make_build())
    plan = planned(blank, shop)
    assert figures(blank, shop).result.rests is None
    finish(blank, head="6.38", heel="6.35")
    board = figures(blank, shop)
    more = aims(blank, shop)["depth"] - plan.slots.depth_setting
    assert 0.05 < more < 0.08
    assert board.rests_on("slots") == "From the thickness read: 6.38 mm at the head, 6.35 mm at the heel."
    assert board.result.thickness.after_radiusing == plan.thickness.after_radiusing
    assert board.rests_on("after") == ""


def test_a_thin_board_is_cut_lower_and_says_so(maker: User, shop: Shop) -> None:
    blank = make_blank(make_build())
    plan = planned(blank, shop)
    finish(blank, head="6.05", heel="6.1")
    finish(blank)
    board, wanted = figures(blank, shop), aims(blank, shop)
    assert wanted["centre"] == pytest.approx(6.05)
    assert wanted["head_bass"] == pytest.approx(plan.corners.head - 0.1)
    assert [w.code for w in board.result.warnings] == ["thin-board"]
    assert "set the cutter to leave 6.05 mm" in board.result.warnings[0].message


def test_each_stage_is_held_against_what_was_known_when_the_board_came_to_it(maker: User, shop: Shop) -> None:
    blank = make_blank(make_build())
    finish(blank, head="6.36", heel="6.36")
    depth = aims(blank, shop)["depth"]
    finish(blank, depth="3.3")
    centre = aims(blank, shop)["centre"]
    finish(blank, centre="5.95")
    board = figures(blank, shop)
    assert board.result.thickness.finished == pytest.approx(5.95)
    steps = {step.stage.key: step for step in steps_of(board, shop)}
    shown = {key: step.readings[-1].target.value for key, step in steps.items()}
    assert shown["thicknessing"] == pytest.approx(6.3)
    assert shown["slotting"] == pytest.approx(depth)
    assert shown["radiusing"] == pytest.approx(centre) == pytest.approx(6.15)
    assert steps["radiusing"].readings[-1].read == Decimal("5.95")


def test_a_slot_that_is_sawn_keeps_its_depth(maker: User, shop: Shop) -> None:
    blank = make_blank(make_build())
    plan = planned(blank, shop)
    finish(blank)
    finish(blank, depth="4.0")
    result = figures(blank, shop).result
    assert result.slots.depth_setting == pytest.approx(4.0)
    assert result.slots.web_least == pytest.approx(6.3 - 4.0)
    assert result.slots.web_least < plan.slots.web_least
    assert result.rests.words("web") == "From the thickness read: 6.3 mm, and the slot depth read: 4 mm."


def test_slots_too_shallow_are_told_before_the_curve_is_cut(maker: User, shop: Shop) -> None:
    blank = make_blank(make_build())
    finish(blank)
    finish(blank, depth="2.6")
    assert [w.code for w in figures(blank, shop).result.warnings] == ["shallow-slot"]


def test_slots_after_the_curve_count_from_the_middle(maker: User, shop: Shop) -> None:
    blank = make_blank(make_build(route=make_route(LATE, "Slots last")))
    plan = planned(blank, shop)
    finish(blank, head="6.36", heel="6.36")
    finish(blank, centre="6.2")
    assert aims(blank, shop)["depth"] == pytest.approx(plan.slots.depth_setting + 0.05)


def test_what_was_not_read_is_as_the_log_says(maker: User, shop: Shop) -> None:
    """The log keeps what was made by the spec of that day; a spec that changes since does not make it thicker."""
    build = make_build()
    blank = make_blank(build)
    finish(blank, head=None, heel=None)
    assert figures(blank, shop).rests_on("slots") == "From the thickness by the log: 6.3 mm."
    assert figures(blank, shop).result.slots.depth_setting == pytest.approx(planned(blank, shop).slots.depth_setting)
    build.thickness = Decimal("6.4")
    build.save()
    now = figures(blank, shop).result
    assert now.thickness.finished == pytest.approx(6.3)
    assert [w.code for w in now.warnings] == ["thin-board"]


def test_what_is_taken_back_counts_no_more(maker: User, shop: Shop) -> None:
    blank = make_blank(make_build())
    before = figures(blank, shop).result
    finish(blank, head="6.5", heel="6.5")
    assert figures(blank, shop).result != before
    blank.undo(make_hand(), blank.version, blank.last_undoable())
    assert figures(blank, shop).result == before


def test_done_again_the_last_reading_stands(maker: User, shop: Shop) -> None:
    blank = make_blank(make_build())
    finish(blank, head="6.9", heel="6.9")
    rework(blank, "thicknessing")
    # Sent back, it is thick enough still: the plan stands.
    assert aims(blank, shop) == {"head": pytest.approx(6.3), "heel": pytest.approx(6.3)}
    assert figures(blank, shop).result.slots == planned(blank, shop).slots
    finish(blank, head="6.32", heel="6.31")
    assert (
        figures(blank, shop).rests_on("slots") == "From the thickness read: 6.32 mm at the head, 6.31 mm at the heel."
    )


def test_sent_back_it_has_the_wood_that_is_left(maker: User, shop: Shop) -> None:
    """Radiused to 5.95, and sent back to be thicknessed: 6.3 cannot be left of it any more, and its slots are there."""
    blank = make_blank(make_build())
    plan = planned(blank, shop)
    finish(blank)
    finish(blank, depth="4")
    finish(blank, centre="5.95")
    rework(blank, "thicknessing")
    result = figures(blank, shop).result
    assert result.thickness.before_radiusing == pytest.approx(5.95)
    assert result.slots.web_least == pytest.approx(2.3)
    assert "slots that are in it already" in result.rests.words("web")
    assert result.slots.web_least < plan.slots.web_least
    rework_radius = make_blank(make_build("B951"))
    for readings in ({}, {}, {"centre": "6.1"}):
        finish(rework_radius, **readings)
    rework(rework_radius, "radiusing")
    assert aims(rework_radius, shop)["centre"] == pytest.approx(6.1)


def test_put_to_another_build_it_takes_its_readings_along(maker: User, shop: Shop) -> None:
    blank = make_blank(make_build())
    finish(blank, head="6.36", heel="6.36")
    blank.take_off(make_hand(), blank.version)
    assert figures(blank, shop).result is None
    blank.put_to(make_hand(), blank.version, make_build("B952"))
    assert figures(blank, shop).rests_on("slots") == "From the thickness read: 6.36 mm."


def test_measured_again_as_thinner_it_is_thinner(maker: User, shop: Shop) -> None:
    blank = make_blank(make_build())
    finish(blank)
    blank.measure(make_hand(), blank.version, Decimal(530), Decimal(70), Decimal("6.1"))
    assert figures(blank, shop).result.thickness.before_radiusing == pytest.approx(6.1)


def test_a_board_on_its_neck(maker: User, shop: Shop) -> None:
    """Radiused last, where no caliper reaches under it: nothing is read, and nothing called so."""
    blank = make_blank(make_build(route=make_route(ON_NECK)))
    finish(blank, head="6.36", heel="6.36")
    for _ in range(4):
        finish(blank)
    assert blank.next_stage == ""
    board = figures(blank, shop)
    assert board.result.thickness.after_radiusing == pytest.approx(6.15)
    assert "read" not in board.rests_on("after")


def test_what_a_stage_made_counts_from_what_was_read(maker: User, shop: Shop) -> None:
    blank = make_blank(make_build())
    finish(blank, head="6.4", heel="6.4")
    finish(blank, depth=None)
    made = blank.log.get(kind="finished", stage="slotting").made
    assert float(made["thickness"]) == pytest.approx(6.4)
    assert float(made["depth"]) == pytest.approx(planned(blank, shop).slots.depth_setting + 0.1, abs=1e-6)
    assert blank.as_made.slots.floor == pytest.approx(6.4 - float(made["depth"]))
    assert list(troubles(Blank.objects.get(pk=blank.pk))) == []


BASIS = "From the thickness read: 6.38 mm at the head, 6.35 mm at the heel."


def text(client: Client, path: str) -> str:
    return " ".join(client.get(path).content.decode().split())


def sheets(blank: Blank, shop: Shop, maker: User) -> str:
    board = figures(blank, shop)
    (sheet,) = traveller_sheets([board], [], Occasion(shop, maker, timezone.now(), "http://shop"))
    return " ".join((sheet.html + sheet.notes).split())


def test_pages_and_sheets_say_what_a_figure_counts_from(bench: Client, maker: User, shop: Shop) -> None:
    blank = make_blank(make_build())
    assert "the thickness read" not in text(bench, f"/blanks/{blank.number}/")
    assert "the thickness read" not in sheets(blank, shop, maker)
    finish(blank, head="6.38", heel="6.35")
    assert text(bench, f"/benches/slotting/?board={blank.number}").count(BASIS) == 1
    here = text(bench, f"/blanks/{blank.number}/")
    assert BASIS in here and "Before radiusing, slot depth, least web: from the thickness read: 6.38 mm" in here
    assert "slot depth, least web: from the thickness read: 6.38 mm" in sheets(blank, shop, maker)


def test_many_blanks_cost_as_many_queries_as_few(maker: User, shop: Shop) -> None:
    def queries(how_many: int) -> int:
        blanks = list(Blank.objects.with_spec()[:how_many])
        current = Shop.current()
        with CaptureQueriesContext(
            connection,
        ) as captured:
            boards = worked_many(blanks, current)
            assert all(board.result for board in boards)
            [board.at("thicknessing") for board in boards]
        return len(captured)

    for number in range(6):
        blank = make_blank(make_build(f"B96{number}"))
        finish(blank, head="6.35")
        finish(blank)
    assert queries(2) == queries(6)


def test_the_plan_needs_no_log(maker: User, shop: Shop) -> None:
    blank = make_blank(make_pattern())
    finish(blank, head="6.4")
    with CaptureQueriesContext(connection) as captured:
        assert worked(blank, shop, as_planned=True).result.rests is None
    assert not any(LogEntry._meta.db_table in query["sql"] for query in captured)
