"""Explanations: what their equations come to with their numbers is what geometry gave."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from geometry.explained import FIGURES, evaluate, explain, figures_of
from geometry.explained.curve import minutes_on_sheet
from geometry.explained.sheet import Sheet
from geometry.former import former_for
from geometry.measured import AsMeasured
from geometry.request import BlankSize, Climate, Cutter, EndRadii, Former, Jig
from geometry.workout import work_out, work_out_each
from tests.geometry.samples import CUTTER, FANNED, ask, lengths, requests, steady

few = settings(steady, max_examples=40)  # each of them is some forty figures
BLANK = BlankSize(530, 70, 8.5)
JIG = Jig(900, 60, 120, 20, 110, 30)
RACK = tuple(Former(f"{r}", *map(float, former_for(JIG, r, 6.5)), 2) for r in (240.0, 305.0, 420.0, 700.0))
CLIMATE = Climate(21, 45, 9.5, 30, 60, 0.00092, 0.00201, "rift")


def check(request, result) -> set[str]:
    """Hold every figure of a board, at every place, against its explanation; give the names of those it has."""
    seen = set()
    for figure, places in figures_of(result):
        for place in {places[0], places[-1]}:
            told = explain(figure.key, request, result, place)
            wanted = figure.answer(result, place)
            assert told.value == pytest.approx(wanted, rel=1e-9, abs=1e-8), (figure.key, place)
            # Again from nothing but what the page shows: inputs, and each step from those before it.
            values = {each.symbol: each.value for each in told.inputs}
            for step in told.steps:
                values[step.symbol] = evaluate(step.expression, values)
            assert values[told.steps[-1].symbol] == told.value
            assert told.steps[-1].kind == figure.kind, figure.key
            assert all(each.words and each.source for each in told.inputs) and told.source
        seen.add(figure.key)
    return seen


CYLINDER = EndRadii(304.8, 304.8)
WHOLE = {
    "blank": BLANK, "cutter": CUTTER, "jig": JIG, "formers": RACK, "climate": CLIMATE,
}  # fmt: skip
SORTS = {
    "cone": ask(**WHOLE),
    "cylinder": ask(radius=CYLINDER, **WHOLE),
    "flat": ask(radius=None, **WHOLE),
    "fanned": ask(FANNED, blank=BlankSize(620, 75, 9), cutter=CUTTER, jig=replace(JIG, span=1000), formers=RACK),
    "fanned cone": ask(FANNED, radius=EndRadii(300, 500)),
    "after": ask(slotting="after radiusing", **WHOLE),
    "ledge": ask(nut_ledge=6.0, heel_width=40.0, **WHOLE),
    "bare": ask(),
}


@pytest.mark.parametrize("sort", SORTS)
def test_every_sort_of_board(sort):
    assert check(SORTS[sort], work_out(SORTS[sort]))


def test_every_figure_is_on_some_board():
    seen = set().union(*(check(request, work_out(request)) for request in SORTS.values()))
    assert seen == set(FIGURES)


@few
@given(requests)
def test_every_board(request):
    (result,) = work_out_each([request])
    assume(not isinstance(result, Exception))
    check(request, result)


offsets = st.one_of(st.none(), lengths(-0.6, 0.6))


@few
@given(requests, offsets, offsets, st.one_of(st.none(), lengths(-0.3, 0.3)), st.one_of(st.none(), lengths(-0.3, 0.3)),
       st.one_of(st.none(), lengths(-0.4, 0.2)), st.one_of(st.none(), lengths(-0.5, 0.5)))  # fmt: skip
def test_boards_that_were_read(request, head, heel, slot, centre, most, floor):
    plan = work_out_each([request])[0]
    assume(not isinstance(plan, Exception))
    before, after = plan.thickness.before_radiusing, plan.thickness.after_radiusing
    planned = (before, before, plan.slots.depth_setting, after, before, plan.slots.web_least)
    read = [None if off is None else value + off
            for value, off in zip(planned, (head, heel, slot, centre, most, floor), strict=True)]  # fmt: skip
    measured = AsMeasured(*read)
    assume(not measured.nothing and all(value is None or value > 0.2 for value in read))
    (result,) = work_out_each([request], measured=[measured])
    assume(not isinstance(result, Exception))
    check(request, result)


@few
@given(lengths(200, 700), lengths(0, 200), lengths(-2, 2), st.integers(0, 3))
def test_jigs(nut, more, packing, first):
    request = ask(radius=EndRadii(nut, nut + more), blank=BLANK, cutter=Cutter(16, 3),
                  jig=replace(JIG, packing=2 + packing), formers=RACK[first:] + RACK[:first])  # fmt: skip
    (result,) = work_out_each([request])
    assume(not isinstance(result, Exception))
    check(request, result)


def test_minutes():
    request = SORTS["cone"]
    result = work_out(request)
    sheet = Sheet(request, result)
    assert minutes_on_sheet(sheet, 1500) == pytest.approx(sheet.steps["m"].value)


def test_a_figure_that_a_board_has_not():
    request = ask(radius=None)
    result = work_out(request)
    assert explain("passes", request, result) is None
    assert explain("slot", request, result, 99) is None
    assert explain("slot", request, result, 0) is None
    with pytest.raises(KeyError):
        explain("nothing", request, result)


def test_a_worked_example_from_outside():
    # The rule of 18 of the old books is near the twelfth root of 2: the divisor is 17.817 (to three places).
    told = explain("fret", ask(scale=647.7), work_out(ask(scale=647.7)), 1)
    assert told.value == pytest.approx(647.7 / 17.817, abs=2e-3)
    # The octave halves the string, which needs no table.
    assert explain("fret", ask(scale=647.7), work_out(ask(scale=647.7)), 12).value == pytest.approx(647.7 / 2)
    # Wood Handbook, FPL-GTR-190, table 4-2: 70 °F and 45 % give 8.6 % moisture (from memory, to 0.2).
    warm = ask(climate=replace(CLIMATE, temperature_c=(70 - 32) / 1.8))
    assert explain("emc", warm, work_out(warm)).value == pytest.approx(8.6, abs=0.2)


@pytest.mark.parametrize("text", ["__import__('os')", "x.real", "[1]", "'a'", "x if x else 1", "min(*x)", "f(1)"])
def test_an_expression_is_arithmetic_and_nothing_else(text):
    with pytest.raises((ValueError, KeyError, TypeError)):
        evaluate(text, {"x": 1.0})


def test_the_steps_are_numbers():
    assert np.isfinite([step.value for step in explain("web-least", ask(), work_out(ask())).steps]).all()
