from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given

from geometry.request import EndRadii, TwoScales, Wire
from geometry.surface import height_at
from geometry.workout import work_out
from tests.geometry.samples import FANNED, ask, requests, steady


def test_one_saw_setting_for_the_whole_board():
    slots = work_out(ask()).slots
    assert slots.depth_setting == pytest.approx(3.198602, abs=5e-7)
    assert slots.web_least == pytest.approx(3.451398, abs=5e-7)
    assert slots.deepest_fret == 22
    assert slots.void_at_centre == pytest.approx(3.198602 - 0.3 - 1.6, abs=5e-7)


def test_slots_sawn_after_radiusing_follow_the_curve():
    before, after = work_out(ask()), work_out(ask(slotting="after radiusing"))
    assert {round(line.slot_depth, 9) for line in after.board.frets[1:]} == {2.05}
    assert after.slots.depth_setting == pytest.approx(0.15 + 1.6 + 0.3)
    assert after.slots.void_at_centre == pytest.approx(0.3)
    assert after.slots.web_least == before.slots.web_least
    assert [line.web for line in after.board.frets] == [line.web for line in before.board.frets]


def test_the_nut_has_no_slot():
    nut = work_out(ask()).board.frets[0]
    assert nut.slot_depth is None and nut.web is None


def test_a_flat_board_needs_tang_and_clearance_only():
    result = work_out(ask(radius=None))
    assert {round(line.slot_depth, 9) for line in result.board.frets[1:]} == {round(0.3 + 1.6 + 0.3, 9)}
    assert result.slots.web_least == pytest.approx(6.35 - 1.9)
    assert result.slots.void_at_centre == pytest.approx(0.3)


@steady
@given(requests)
def test_the_floor_lies_under_the_tang_wherever_the_slot_goes(request):
    """Walk along each slot on the finished surface and look for the tang's foot, going by the surface alone."""
    result, board = work_out(request), request.board
    radius = board.radius or EndRadii(np.inf, np.inf)
    surface = {"thickness": board.thickness, "length": result.board.length}
    surface |= {"nut_radius": radius.nut, "heel_radius": radius.heel}
    needed = request.wire.tang + request.wire.clearance
    for line in result.board.frets[1:]:
        along = np.linspace(0, 1, 41)
        x = line.bass[0] + along * (line.treble[0] - line.bass[0])
        y = line.bass[1] + along * (line.treble[1] - line.bass[1])
        lowest = height_at(x, y, **surface).min()
        assert line.edge_thickness == pytest.approx(lowest, abs=1e-9)
        assert line.web == pytest.approx(lowest - needed, abs=1e-9)
        if request.slotting == "before radiusing":
            floor = result.thickness.before_radiusing - line.slot_depth
            assert lowest - floor == pytest.approx(needed, abs=1e-9)
    assert result.slots.web_least == pytest.approx(min(line.web for line in result.board.frets[1:]))
    assert result.slots.depth_setting == pytest.approx(max(line.slot_depth for line in result.board.frets[1:]))


def test_a_slanting_slot_is_lowest_at_one_of_its_ends():
    """Under a strong fan on a strong cone, the two ends of a slot differ, and the lower one counts."""
    board = replace(FANNED, scale=TwoScales(720.0, 630.0, 0), radius=EndRadii(180.0, 500.0))
    result = work_out(ask(board))
    line = result.board.frets[20]
    ends = [
        height_at(x, y, thickness=6.35, nut_radius=180.0, heel_radius=500.0, length=result.board.length)
        for x, y in (line.bass, line.treble)
    ]
    assert abs(ends[0] - ends[1]) > 0.01
    assert line.edge_thickness == pytest.approx(min(ends))


@steady
@given(requests)
def test_a_deeper_tang_takes_its_depth_off_the_web(request):
    wire = request.wire
    deeper = replace(request, wire=Wire(wire.tang + 0.25, wire.kerf, wire.clearance))
    before, after = work_out(request).slots, work_out(deeper).slots
    assert after.web_least == pytest.approx(before.web_least - 0.25)
    assert after.depth_setting == pytest.approx(before.depth_setting + 0.25)
    assert after.deepest_fret == before.deepest_fret
