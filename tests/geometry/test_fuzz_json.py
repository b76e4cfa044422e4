"""Anything at all as JSON: an answer that is JSON itself, with words for what is wrong, and never a traceback."""

from __future__ import annotations

import copy
import json
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry import contract, gauge_contract
from tests.fuzz import NASTY, cases
from tests.geometry.test_contract import FULL, PLAIN
from tests.geometry.test_gauging import CORNERS

POINTS = {"points": [[-25, 0.0], [-12, 0.9], [0, 1.2], [12, 0.9], [25, 0.0]], "radius": "10 in"}

numbers = st.one_of(st.floats(), st.integers(), st.sampled_from([0, -0.0, 1e308, -1e308, 5e-324, 10**400, True]))
anything = st.recursive(
    st.one_of(st.none(), st.booleans(), numbers, st.text(max_size=20), st.sampled_from(NASTY)),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(st.text(max_size=12), inner, max_size=4)),
    max_leaves=12,
)


def places(asked: object, way: tuple = ()) -> list[tuple]:
    """Give the ways to all values of a request."""
    inner = asked.items() if isinstance(asked, dict) else enumerate(asked) if isinstance(asked, list) else ()
    return [way + (key,) for key, _ in inner] + [far for key, value in inner for far in places(value, (*way, key))]


@st.composite
def bent(draw: st.DrawFn, *good: dict) -> object:
    """A good request with some of its values replaced by anything, taken out, or joined by others."""
    asked = copy.deepcopy(draw(st.sampled_from(good)))
    for _ in range(draw(st.integers(1, 4))):
        ways = places(asked)
        if not ways:
            break
        *way, last = draw(st.sampled_from(ways))
        at = asked
        for key in way:
            at = at[key]
        match draw(st.integers(0, 4)):
            case 0:
                del at[last]
            case 1:
                at[last] = draw(numbers)
            case 2 if isinstance(at, dict):
                at[draw(st.text(max_size=8))] = draw(anything)
            case 3 if isinstance(at[last], int | float) and abs(at[last]) < 1e9:
                at[last] *= draw(st.sampled_from([-1, 0, 1e-9, 1e9, 1e300, 2, 0.5]))
            case _:
                at[last] = draw(anything)
    return asked


def answered(answer: Callable, data: str | bytes) -> None:
    text, code = answer(data)
    said = json.loads(text, parse_constant=pytest.fail)  # RFC 8259, section 6: no NaN and no Infinity
    assert code in (0, 2)
    each = said if isinstance(said, list) else [said]
    assert (code == 2) == any("errors" in one for one in each)
    for one in each:
        for error in one.get("errors", ()):
            assert error["message"].strip().endswith((".", "?")), error


def test_what_is_bent_was_good() -> None:
    for answer, asked in ((contract.answer, [PLAIN, FULL]), (gauge_contract.answer, [POINTS, CORNERS])):
        assert answer(json.dumps(asked))[1] == 0


@cases(0.25)
@given(bent(PLAIN, FULL))
def test_a_board_that_is_bent(asked: object) -> None:
    answered(contract.answer, json.dumps(asked))


@cases(0.15)
@given(bent(POINTS, CORNERS))
def test_measurements_that_are_bent(asked: object) -> None:
    answered(gauge_contract.answer, json.dumps(asked))


@pytest.mark.parametrize("answer", [contract.answer, gauge_contract.answer])
def test_anything_that_is_json(answer: Callable) -> None:
    cases(0.05)(given(anything)(lambda asked: answered(answer, json.dumps(asked))))()


@pytest.mark.parametrize("answer", [contract.answer, gauge_contract.answer])
def test_anything_at_all(answer: Callable) -> None:
    cases(0.05)(given(st.binary(max_size=200))(lambda data: answered(answer, data)))()
