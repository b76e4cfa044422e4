"""What was read of a board stands in the place of what was planned."""

import math
import re
from dataclasses import asdict, replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from geometry.contract import as_json
from geometry.measured import AsMeasured
from geometry.reader import read_request
from geometry.request import BlankSize, Cutter, EndRadii, Former, Jig, TwoScales
from geometry.schema import request_schema
from geometry.surface import height_at
from geometry.units import LengthStyle
from geometry.workout import work_out, work_out_each, work_out_many
from tests.geometry.samples import CUTTER, FANNED, ask, lengths, requests, steady

BLANK = BlankSize(530, 70, 8.5)
JIG = Jig(900, 60, 120, 20, 110, 30)
offsets = st.one_of(st.none(), lengths(-0.6, 0.6))
readings = st.tuples(
    offsets, offsets, st.one_of(st.none(), lengths(-0.3, 0.3)), st.one_of(st.none(), lengths(-0.3, 0.3))
)


def read_of(request, off):
    """What would be read of a board that is off its plan by so much: at the head, the heel, the slots, the middle."""
    plan = work_out(request)
    planned = (*[plan.thickness.before_radiusing] * 2, plan.slots.depth_setting, plan.thickness.after_radiusing)
    values = [None if by is None else value + by for value, by in zip(planned, off, strict=True)]
    return AsMeasured(*values)


def without_basis(result):
    return asdict(replace(result, rests=None))


@steady
@given(requests)
def test_a_reading_that_equals_the_plan_changes_nothing(request):
    plan = work_out(request)
    before, after = plan.thickness.before_radiusing, plan.thickness.after_radiusing
    for same in (
        AsMeasured(head=before, heel=before),
        AsMeasured(heel=before),
        AsMeasured(head=before, centre=after),
        AsMeasured(at_most=before),
    ):
        now = work_out(request, measured=same)
        # A blank too thin at intake is judged by what was left of it then.
        kept = tuple(w for w in plan.warnings if w.code != "blank-thin" and w.code != "deep-cut")
        told = tuple(w for w in now.warnings if w.code != "blank-thin" and w.code != "deep-cut")
        assert told == kept
        assert without_basis(replace(now, warnings=())) == without_basis(replace(plan, warnings=()))
        assert now.rests is not None and plan.rests is None


@steady
@given(requests)
def test_slots_as_deep_as_planned_leave_what_was_planned(request):
    plan = work_out(request)
    now = work_out(request, measured=AsMeasured(slot_depth=plan.slots.depth_setting))
    assert now.slots.web_least == pytest.approx(plan.slots.web_least, abs=1e-9)
    assert now.slots.void_at_centre == pytest.approx(plan.slots.void_at_centre, abs=1e-9)
    assert now.rests.seat == pytest.approx(request.wire.tang + request.wire.clearance, abs=1e-9)
    assert {line.slot_depth for line in now.board.frets[1:]} == {plan.slots.depth_setting}


@steady
@given(st.lists(st.tuples(requests, readings), min_size=1, max_size=8))
def test_a_board_among_many_is_worked_out_as_if_alone(many):
    asked = [request for request, _ in many]
    read = [read_of(request, off) for request, off in many]
    for result, request, one in zip(work_out_many(asked, measured=read), asked, read, strict=True):
        alone = work_out(request, measured=one)
        assert result.thickness == alone.thickness
        assert result.corners == alone.corners
        for name in ("depth_setting", "web_least", "void_at_centre"):
            assert getattr(result.slots, name) == pytest.approx(getattr(alone.slots, name), rel=1e-12, abs=1e-12)
        assert [w.code for w in result.warnings] == [w.code for w in alone.warnings]


@steady
@given(requests)
def test_boards_of_which_nothing_was_read_do_not_mind_those_beside_them(request):
    plan = work_out(request)
    both = work_out_each([request, request], measured=[None, AsMeasured(head=plan.thickness.before_radiusing - 0.4)])
    assert both[0] == plan and both[1] != plan
    assert work_out_each([request], measured=[AsMeasured()]) == [plan]


@steady
@given(requests, lengths(-0.8, 0.8), lengths(0, 0.5))
def test_thinner_never_leaves_more_web(request, off, less):
    before = work_out(request).thickness.before_radiusing
    depth = work_out(request).slots.depth_setting
    for names in (("head",), ("heel",), ("head", "heel")):
        for more in ({}, {"slot_depth": depth}, {"slot_depth": depth, "centre": before}):
            thick, thin = (
                work_out(request, measured=AsMeasured(**dict.fromkeys(names, before + by), **more))
                for by in (off, off - less)
            )
            assert thin.slots.web_least <= thick.slots.web_least + 1e-9
            assert thin.thickness.after_radiusing <= thick.thickness.after_radiusing
            assert thin.corners.head <= thick.corners.head


@steady
@given(requests, lengths(-0.8, 0.8), lengths(0, 0.5))
def test_thinner_in_the_middle_never_leaves_a_thicker_edge(request, off, less):
    after = work_out(request).thickness.after_radiusing
    thick, thin = (work_out(request, measured=AsMeasured(centre=after + by)) for by in (off, off - less))
    for line, other in zip(thin.board.frets, thick.board.frets, strict=True):
        assert line.edge_thickness <= other.edge_thickness + 1e-12
    assert thin.slots.web_least <= thick.slots.web_least + 1e-12


@steady
@given(requests, lengths(-0.5, 0.8), lengths(-0.5, 0.8))
def test_the_floor_lies_under_the_tang_from_the_top_that_was_read(request, at_head, at_heel):
    """Walk along each slot: from the flat top as it was read, under one saw setting, on the surface as it comes out."""
    before = work_out(request).thickness.before_radiusing
    head, heel = before + at_head, before + at_heel
    result, board = work_out(request, measured=AsMeasured(head=head, heel=heel)), request.board
    assume(result.thickness.finished > 1)
    size = request.blank or result.blank_needed
    start = result.board.length - result.board.overall - request.allowances.end
    radius = board.radius or EndRadii(np.inf, np.inf)
    surface = {"thickness": result.thickness.finished, "length": result.board.length}
    surface |= {"nut_radius": radius.nut, "heel_radius": radius.heel}
    needed = request.wire.tang + request.wire.clearance
    webs, slack = [], []
    for line in result.board.frets[1:]:
        along = np.linspace(0, 1, 21)
        x = line.bass[0] + along * (line.treble[0] - line.bass[0])
        y = line.bass[1] + along * (line.treble[1] - line.bass[1])
        finished = height_at(x, y, **surface)
        if request.slotting == "before radiusing":
            top = head + (heel - head) * (x - start) / size.length
            floor = top - result.slots.depth_setting
            own = top - line.slot_depth
            assert (finished - own).min() >= needed - 1e-9
        else:
            floor = (
                finished + (result.thickness.after_radiusing - result.thickness.finished) - result.slots.depth_setting
            )
        slack.append((finished - floor).min() - needed)
        webs.append(floor.min())
    assert min(slack) == pytest.approx(0, abs=1e-9)
    assert result.slots.web_least == pytest.approx(min(webs), abs=1e-9)


@steady
@given(requests, lengths(-0.3, 0.3), lengths(-0.3, 0.3), lengths(-0.4, 0.4))
def test_slots_that_are_sawn_leave_what_is_under_them(request, at_head, at_heel, deeper):
    plan = work_out(request)
    head, heel = (plan.thickness.before_radiusing + by for by in (at_head, at_heel))
    depth = plan.slots.depth_setting + deeper
    result = work_out(request, measured=AsMeasured(head, heel, depth))
    size = request.blank or result.blank_needed
    start = result.board.length - result.board.overall - request.allowances.end
    seats, webs = [], []
    for line in result.board.frets[1:]:
        for (x, _y), edge in ((line.bass, line.edge_thickness), (line.treble, line.edge_thickness)):
            top = head + (heel - head) * (x - start) / size.length
            if request.slotting == "after radiusing":
                top = edge + result.thickness.after_radiusing - result.thickness.finished
            webs.append(top - depth)
            seats.append(edge - (top - depth))
    assert result.slots.web_least == pytest.approx(min(webs), abs=1e-9)
    # A fan's edge is told at its lower end, so there the seat is told on the safe side.
    assert result.rests.seat >= min(seats) - 1e-9
    if not isinstance(request.board.scale, TwoScales):
        assert result.rests.seat == pytest.approx(min(seats), abs=1e-9)


def test_what_gives_first():
    """6.35 finished, 0.15 for sanding and 0.15 for the skim: 6.5 after and 6.65 before radiusing."""
    plan = work_out(ask()).corners
    for read, after, finished in ((6.65, 6.5, 6.35), (6.5, 6.5, 6.35), (6.4, 6.4, 6.35), (6.3, 6.3, 6.3)):
        result = work_out(ask(cutter=CUTTER), measured=AsMeasured(heel=read))
        ledger = result.thickness
        assert (ledger.before_radiusing, ledger.after_radiusing, ledger.finished) == pytest.approx(
            (read, after, finished)
        )
        assert result.corners.head == pytest.approx(plan.head - (6.5 - after))
        middle = next(p for p in result.passes.list if p.number == 0)
        step = math.radians(result.passes.step_deg)
        assert middle.depth == pytest.approx(read - after + 244.0 * (1 - math.cos(step / 2)), abs=0.01)


def test_each_end_by_its_own_figure():
    """A board 0.2 thicker at the heel: the saw goes by the slot that needs most, the cutter by the thicker end."""
    flat = ask(radius=EndRadii(300.0, 300.0), cutter=CUTTER, blank=BLANK)
    plan, now = work_out(flat), work_out(flat, measured=AsMeasured(head=6.65, heel=6.85))
    assert now.thickness.before_radiusing == pytest.approx(6.65)
    for line, planned in zip(now.board.frets[1:], plan.board.frets[1:], strict=True):
        assert line.slot_depth - planned.slot_depth == pytest.approx(0.2 * (line.from_nut + 10) / 530)
    assert now.slots.depth_setting == pytest.approx(max(line.slot_depth for line in now.board.frets[1:]))
    assert max(p.depth for p in now.passes.list) == pytest.approx(max(p.depth for p in plan.passes.list) + 0.2)
    assert now.slots.web_least < plan.slots.web_least
    assert now.rests.web == ("head", "heel")


def test_the_worked_example():
    """Read 0.28 thicker than planned, it is sawn 0.28 deeper: the floor stays where it has to be."""
    plan, now = work_out(ask()), work_out(ask(), measured=AsMeasured(head=6.93, heel=6.93))
    assert plan.slots.depth_setting == pytest.approx(3.198602, abs=5e-7)
    assert now.slots.depth_setting == pytest.approx(3.198602 + 0.28, abs=5e-7)
    assert now.slots.web_least == pytest.approx(plan.slots.web_least)
    assert now.rests.words("slots") == "From the thickness read: 6.93 mm."
    assert now.rests.words("slots", LengthStyle.INCH_DECIMAL) == "From the thickness read: 0.273 in."
    assert now.rests.words("after") == "" and now.rests.words("web") == ""


def test_what_its_slots_leave_once_they_are_read():
    now = work_out(ask(), measured=AsMeasured(head=6.65, heel=6.65, slot_depth=3.3))
    assert now.slots.web_least == pytest.approx(6.65 - 3.3)
    assert now.slots.void_at_centre == pytest.approx(6.35 - (6.65 - 3.3) - 1.6)
    assert now.rests.words("web") == "From the thickness read: 6.65 mm, and the slot depth read: 3.3 mm."


def warned(request, measured, style=LengthStyle.MM):
    return {w.code: w for w in work_out(request, style, measured=measured).warnings}


def test_a_thin_board_says_what_gives_and_what_would_help():
    caution = warned(ask(), AsMeasured(head=6.42, heel=6.6))["thin-board"]
    assert caution.level == "caution"
    assert caution.message == (
        "There is no skim left: set the cutter to leave 6.42 mm in the middle, 0.08 mm lower than planned, or it will "
        "pass over the middle. 0.07 mm is left for sanding out the passes, of 0.15 mm. From the thickness read: "
        "6.42 mm at the head, 6.6 mm at the heel."
    )
    stop = warned(ask(), AsMeasured(head=6.2, heel=6.25))["thin-board"]
    assert stop.level == "stop" and (stop.value, stop.limit) == pytest.approx((6.2, 6.35))
    assert stop.message.startswith("The board is 0.15 mm too thin to finish at 6.35 mm: 6.2 mm is all it has")
    assert "Another blank would do" in stop.message
    assert "thin-board" not in warned(ask(), AsMeasured(head=6.55))


def test_a_little_less_in_the_middle_is_sanded_all_the_same():
    assert "thin-board" not in warned(ask(), AsMeasured(centre=6.45))
    assert warned(ask(), AsMeasured(centre=6.38))["thin-board"].message.startswith(
        "Radiusing left 0.12 mm less than planned in the middle. 0.03 mm is left for sanding"
    )


def test_a_web_that_a_reading_makes_thin_offers_no_thicker_board():
    warning = warned(ask(thickness=4.5), AsMeasured(head=4.3, heel=4.4))["thin-web"]
    assert "thicker" not in warning.message
    assert "Another blank would do, or a shallower tang." in warning.message
    assert "From the thickness read: 4.3 mm at the head, 4.4 mm at the heel." in warning.message
    sawn = warned(ask(), AsMeasured(head=6.65, slot_depth=5.3))["thin-web"]
    assert sawn.message.startswith("Slot 22 leaves 1.35 mm under it") and "tang" not in sawn.message


def test_an_edge_that_a_reading_makes_thin():
    warning = warned(ask(thickness=2.8), AsMeasured(centre=2.4))["thin-edge"]
    assert "Another blank would do, or a larger radius." in warning.message
    assert "From the thickness on the centreline read: 2.4 mm." in warning.message


def test_slots_too_shallow_for_the_tang():
    assert "shallow-slot" not in warned(ask(), AsMeasured(head=6.65, slot_depth=2.95))
    warning = warned(ask(), AsMeasured(head=6.65, slot_depth=2.8))["shallow-slot"]
    assert warning.level == "stop"
    more = float(re.search(r"Saw the slots ([0-9.]+) mm deeper", warning.message)[1])
    assert "shallow-slot" not in warned(ask(), AsMeasured(head=6.65, slot_depth=2.8 + more))
    # Wood that is gone from the top goes from the slots too.
    assert "shallow-slot" in warned(ask(), AsMeasured(head=6.65, slot_depth=3.0, centre=6.1))


def test_a_thicker_board_bites_deeper():
    request = ask(cutter=Cutter(16.0, 2.7), blank=BLANK)
    assert "deep-cut" not in warned(request, None)
    warning = warned(request, AsMeasured(head=6.95))["deep-cut"]
    assert "Go over the board in 2 levels. From the thickness read: 6.95 mm." in warning.message


def test_a_blank_too_thin_at_intake_is_judged_by_what_was_left_of_it():
    request = ask(blank=BlankSize(530, 70, 7.3))
    assert "blank-thin" in warned(request, None)
    assert warned(request, AsMeasured(head=6.65, heel=6.65)) == {}


def test_the_jig_is_set_for_the_board_that_is_there():
    """3 mm more riser gives 3 mm more radius; so does a curve cut 0.2 lower give 0.2 less."""
    formers = (Former("A", 300.0, 105.0, 2),)
    request = ask(radius=EndRadii(300.0, 300.0), cutter=CUTTER, jig=JIG, formers=formers)
    plan, thin = work_out(request), work_out(request, measured=AsMeasured(head=6.3))
    assert thin.setup.nut_radius == pytest.approx(plan.setup.nut_radius - 0.2)


def test_work_that_is_done_again_finds_what_is_left():
    again = work_out(ask(), measured=AsMeasured(at_most=6.4, floor=2.9))
    assert again.thickness.before_radiusing == again.thickness.after_radiusing == pytest.approx(6.4)
    assert again.slots.web_least == pytest.approx(2.9)
    assert again.rests.words("web").endswith("and the slots that are in it already.")
    assert again.rests.words("after") == "From what its middle measures by now: 6.4 mm."
    deep = work_out(ask(), measured=AsMeasured(floor=5.0))
    assert deep.slots.web_least == work_out(ask()).slots.web_least


def test_what_the_log_says_is_not_called_read():
    told = work_out(ask(), measured=AsMeasured(head=6.9, heel=6.9, reckoned=frozenset({"head", "heel"})))
    assert told.rests.words("slots") == "From the thickness by the log: 6.9 mm."


def test_slots_sawn_after_radiusing_count_from_the_middle():
    late = ask(slotting="after radiusing")
    assert work_out(late, measured=AsMeasured(head=6.9, heel=6.7)).slots == work_out(late).slots
    now = work_out(late, measured=AsMeasured(head=6.9, centre=6.6))
    assert now.slots.depth_setting == pytest.approx(work_out(late).slots.depth_setting + 0.1)
    assert now.rests.words("slots") == "From the thickness on the centreline read: 6.6 mm."


def test_a_fan_on_a_sloping_top():
    plan = work_out(ask(FANNED))
    sloped = work_out(ask(FANNED), measured=AsMeasured(head=6.65, heel=6.95))
    assert sloped.slots.depth_setting > plan.slots.depth_setting
    assert sloped.slots.web_least < plan.slots.web_least


def test_the_contract_knows_nothing_of_readings():
    result = work_out(ask(), measured=AsMeasured(head=6.9))
    assert "rests" not in as_json(result)
    assert list(as_json(result)) == list(as_json(work_out(ask())))
    assert "measured" not in request_schema()["$defs"]["request"]["properties"]
    with pytest.raises(ValueError, match="no such field"):
        read_request({"board": {}, "wire": {}, "measured": {"head": 6.9}})
