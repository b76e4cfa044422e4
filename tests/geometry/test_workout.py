import math
from dataclasses import asdict, replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.errors import GeometryError, StackError
from geometry.request import Allowances, BlankSize, Cutter, EndRadii, TwoScales
from geometry.stack import stacked
from geometry.workout import work_out, work_out_each, work_out_many, work_out_stack
from tests.geometry.samples import BOARD, CUTTER, FANNED, ask, lengths, requests, steady


def leaves(value):
    if isinstance(value, dict):
        for one in value.values():
            yield from leaves(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from leaves(one)
    else:
        yield value


def test_the_published_request():
    result = work_out(ask())
    assert result.board.length == pytest.approx(473.945333, abs=5e-7)
    assert result.slots.depth_setting == pytest.approx(3.198602, abs=5e-7)
    assert result.slots.web_least == pytest.approx(3.451398, abs=5e-7)
    needed = result.blank_needed
    assert (needed.length, needed.width, needed.thickness) == pytest.approx((518.945333, 63, 7.45), abs=5e-7)
    assert (result.passes, result.setup, result.formers_to_make, result.climate, result.warnings) == (None,) * 4 + ((),)


@steady
@given(st.lists(requests, min_size=1, max_size=12))
def test_a_board_among_many_is_worked_out_as_if_alone(many):
    for together, request in zip(work_out_many(many), many, strict=True):
        alone = work_out(request)
        for a, b in zip(leaves(asdict(together)), leaves(asdict(alone)), strict=True):
            assert a == b or a == pytest.approx(b, rel=1e-12, abs=1e-12)


@steady
@given(requests)
def test_figures_are_plain_finite_numbers(request):
    result = work_out(request)
    for leaf in leaves(asdict(result)):
        assert leaf is None or type(leaf) in (int, float, str, bool)
        assert not isinstance(leaf, float) or math.isfinite(leaf)
    flat = request.board.radius is None
    assert all((line.radius is None) == flat for line in result.board.frets)
    if flat:
        assert all(line.sagitta == 0 and line.edge_thickness == request.board.thickness for line in result.board.frets)


@steady
@given(requests, lengths(0.5, 1.6))
def test_the_unit_does_not_matter(request, unit):
    """Every length of the answer grows with every length of the question."""

    def grown(part):
        if isinstance(part, bool | int | str) or part is None:
            return part
        if isinstance(part, float):
            return part * unit
        if isinstance(part, tuple):
            return tuple(grown(one) for one in part)
        return replace(part, **{name: grown(getattr(part, name)) for name in part.__dataclass_fields__})

    whole = replace(request, blank=None, cutter=None)
    before, after = work_out(whole), work_out(grown(whole))
    assert after.board.length == pytest.approx(before.board.length * unit)
    for name in ("depth_setting", "web_least", "void_at_centre"):
        assert getattr(after.slots, name) == pytest.approx(getattr(before.slots, name) * unit, abs=1e-9)
    for line, same in zip(before.board.frets, after.board.frets, strict=True):
        assert same.from_nut == pytest.approx(line.from_nut * unit, abs=1e-9)
        assert same.sagitta == pytest.approx(line.sagitta * unit, abs=1e-9)
        assert same.bass == pytest.approx((line.bass[0] * unit, line.bass[1] * unit), abs=1e-8)


@steady
@given(requests)
def test_a_board_is_the_same_from_both_sides(request):
    for line in work_out(replace(request, board=replace(request.board, scale=640.0))).board.frets:
        assert line.bass[0] == line.treble[0] == line.from_nut
        assert line.bass[1] == -line.treble[1] == -line.width / 2


@pytest.mark.parametrize("board", [BOARD, FANNED])
def test_a_very_large_radius_tends_to_a_flat_board(board):
    flat = work_out(ask(board, radius=None))
    errors = []
    for radius in (500.0, 5_000.0, 50_000.0):
        round_ = work_out(ask(board, radius=EndRadii(radius, radius)))
        errors.append(round_.slots.depth_setting - flat.slots.depth_setting)
        assert round_.board.frets[5].bass == flat.board.frets[5].bass
    assert errors == sorted(errors, reverse=True)
    assert errors[-1] == pytest.approx(errors[0] / 100, rel=2e-3)


def test_a_slight_cone_tends_to_a_cylinder():
    cylinder = work_out(ask(radius=EndRadii(300.0, 300.0), cutter=CUTTER))
    cone = work_out(ask(radius=EndRadii(300.0, 300.0 + 1e-9), cutter=CUTTER))
    for a, b in zip(leaves(asdict(cone)), leaves(asdict(cylinder)), strict=True):
        assert a == b or a == pytest.approx(b, abs=1e-9)


def test_what_cannot_be_worked_out_does_not_spoil_the_rest():
    good, typed, wide = ask(), ask(nut_width=-1), ask(blank=BlankSize(530, 600, 8))
    fine = ask(
        radius=EndRadii(90.0, 50_000.0), cutter=Cutter(1.0, 3.0), scallop_max=0.001, allowances=Allowances(end=0.0)
    )
    answers = work_out_each([good, typed, wide, fine, ask(FANNED)])
    assert answers[0] == work_out(good)
    assert answers[4] == work_out(ask(FANNED))
    assert [a.problems[0].field for a in answers[1:4]] == ["board.nut_width", "blank.width", "scallop_max"]
    with pytest.raises(StackError, match=r"\[1\]\.board\.nut_width") as caught:
        work_out_many([good, typed, wide])
    assert set(caught.value.by_row) == {1, 2}
    assert isinstance(caught.value, GeometryError)


def test_no_requests_no_results():
    assert work_out_many([]) == []


def test_a_stack_of_ten_thousand():
    boards = 10_000
    rows = np.arange(boards)
    sample = stacked([ask(cutter=CUTTER)])
    stack = replace(
        sample.take(np.zeros(boards, int)), treble=600 + rows / 100, bass=600 + rows / 100, nut_radius=200 + rows / 50
    )
    figures = work_out_stack(stack)
    assert figures.width.shape == (boards, 23)
    for row in (0, 4_321, boards - 1):
        radius = EndRadii(200 + row / 50, 406.4)
        alone = work_out(ask(scale=600 + row / 100, radius=radius, cutter=CUTTER))
        assert figures.slots.setting[row] == pytest.approx(alone.slots.depth_setting, rel=1e-14)
        assert figures.fan.count[row] == alone.passes.count
        assert figures.corner_head[row] == pytest.approx(alone.corners.head, rel=1e-14)


def test_a_stack_with_impossible_boards_says_which():
    stack = stacked([ask(), ask(scale=TwoScales(685.8, 647.7, 7)), ask(radius=EndRadii(25.0, 25.0))])
    with pytest.raises(StackError) as caught:
        work_out_stack(stack)
    assert list(caught.value.by_row) == [2]
