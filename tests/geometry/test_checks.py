import math
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest

from geometry.checks import validate
from geometry.errors import GeometryError
from geometry.limits import LIMITS, limit_of
from geometry.request import Allowances, BlankSize, Climate, Cutter, EndRadii, Former, Jig, TwoScales, Wire
from geometry.units import LengthStyle
from geometry.workout import work_out
from tests.geometry.samples import CUTTER, FANNED, ask

JIG = Jig(900.0, 60.0, 120.0, 20.0, 110.0, 30.0)
CLIMATE = Climate(21.0, 45.0, 9.5, 30.0, 60.0, 0.00092, 0.00201, "quarter")


def fields(request):
    return [problem.field for problem in validate(request)]


def full(**rest):
    parts = {"cutter": CUTTER, "jig": JIG, "formers": (Former("A", 300.0, 105.0, 2),), "climate": CLIMATE}
    return ask(blank=BlankSize(520, 70, 8.5), **{**parts, **rest})


def test_nothing_wrong():
    assert validate(ask()) == validate(ask(FANNED)) == validate(full()) == validate(ask(radius=None)) == []


@pytest.mark.parametrize(
    "odd", [0, -5, 1e9, math.nan, math.inf, -math.inf, 10**400, "43", None, True, [], Decimal("43")]
)
@pytest.mark.parametrize("name", ["nut_width", "heel_width", "thickness", "scale", "frets"])
def test_figures_that_cannot_be(name, odd):
    (problem,) = validate(ask(**{name: odd}))
    assert problem.field == f"board.{name}"
    assert problem.message.endswith(".")


def test_every_figure_has_its_limits_and_is_checked():
    request = full(board=replace(FANNED, radius=EndRadii(300.0, 400.0)))
    seen = set()

    def spoil(part, path):
        for name in part.__dataclass_fields__:
            value = getattr(part, name)
            if hasattr(value, "__dataclass_fields__"):
                for changed in spoil(value, f"{path}{name}."):
                    yield replace(part, **{name: changed})
            elif isinstance(value, tuple):
                for changed in spoil(value[0], f"{path}{name}."):
                    yield replace(part, **{name: (changed,)})
            elif not isinstance(value, str):
                seen.add(f"{path}{name}")
                yield replace(part, **{name: math.nan})

    for broken in spoil(request, ""):
        (problem,) = validate(broken)
        assert limit_of(problem.field)
    assert seen == set(LIMITS) - {"board.scale", "board.radius"}


def test_everything_wrong_is_said_at_once():
    request = full(nut_width=-1, frets=2.5, wire=Wire(0, 0.58), jig=replace(JIG, span=0), web_min=-1)
    request = replace(request, formers=(Former("", 0, 105.0), Former("B", 300.0, 105.0, 1.5)), slotting="whenever")
    assert set(fields(request)) == {
        *("board.nut_width", "board.frets", "wire.tang", "jig.span", "web_min", "slotting"),
        *("formers[0].name", "formers[0].radius", "formers[1].count"),
    }
    with pytest.raises(GeometryError) as caught:
        work_out(request)
    assert len(caught.value.problems) == 9


def test_words_in_the_shops_unit():
    (problem,) = validate(ask(nut_width=5))
    assert problem.message == "The width at the nut must be from 10 mm to 300 mm."
    (problem,) = validate(ask(nut_width=5), LengthStyle.INCH_DECIMAL)
    assert problem.message == "The width at the nut must be from 0.394 in to 11.811 in."
    (problem,) = validate(ask(frets=61))
    assert problem.message == "The number of frets must be from 1 to 60."


def test_numbers_of_any_make():
    assert validate(ask(nut_width=43, heel_width=np.float64(57), frets=np.int64(22), scale=648)) == []


def test_what_one_part_needs_of_another():
    assert fields(full(cutter=None)) == ["cutter"]
    assert fields(full(jig=None)) == ["jig"]
    assert fields(full(formers=(Former("A", 300.0, 105.0), Former("A", 310.0, 105.0)))) == ["formers[1].name"]
    assert fields(full(formers=tuple(Former(f"{n}", 300.0, 105.0) for n in range(1001)))) == ["formers"]
    assert fields(full(climate=replace(CLIMATE, grain="burr"))) == ["climate.grain"]
    assert fields(full(climate=replace(CLIMATE, season_low=70.0))) == ["climate.season_low"]


def test_figures_at_odds():
    assert fields(ask(FANNED, scale=TwoScales(685.8, 647.7, 7, 22.0))) == ["board.scale.inset"]
    assert fields(ask(frets=60, scale=300.0, wire=Wire(1.6, 0.58))) == ["wire.kerf"]


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        (
            {"radius": EndRadii(25.0, 25.0)},
            "board.radius",
            "At the heel end a radius of 25 mm cannot span a board 57 mm",
        ),
        ({"radius": EndRadii(20.0, 406.4)}, "board.radius.nut", "At the head end a radius of 20 mm"),
        ({"radius": EndRadii(406.4, 25.0)}, "board.radius.heel", "more than half the width"),
        ({"radius": EndRadii(30.0, 30.0)}, "board.radius", "At the head end of the blank the radius is down to 30 mm"),
        ({"radius": EndRadii(100.0, 33.0)}, "board.radius.heel", "which cannot span the blank's 63 mm"),
        ({"blank": BlankSize(530, 600, 8)}, "blank.width", "cannot span the blank's 600 mm"),
        ({"blank": BlankSize(5000, 70, 8), "radius": EndRadii(406.4, 254.0)}, "blank.width", "down to 0 mm"),
    ],
)
def test_a_chord_wider_than_its_circle_is_said_beside_its_field(changes, field, words):
    with pytest.raises(GeometryError) as caught:
        work_out(ask(**changes))
    assert [problem.field for problem in caught.value.problems].count(field) == 1
    assert words in str(caught.value)
    assert "nan" not in str(caught.value)


def test_fans_that_cannot_be():
    with pytest.raises(GeometryError, match=r"board\.scale: .* widens too fast"):
        scale = TwoScales(318.5, 1531.5, 29, 43.2)
        work_out(ask(scale=scale, frets=3, nut_width=88.0, heel_width=254.6, radius=None))
    with pytest.raises(GeometryError, match=r"board\.scale: .* would cross"):
        work_out(ask(FANNED, scale=TwoScales(3000.0, 200.0, 0, 15.0), wire=Wire(1.6, 0.3)))


def test_a_fan_of_passes_too_fine_to_be_meant():
    with pytest.raises(GeometryError, match=r"scallop_max: This would take more than 999 passes"):
        work_out(
            ask(
                radius=EndRadii(90.0, 50_000.0),
                cutter=Cutter(1.0, 3.0),
                scallop_max=0.001,
                allowances=Allowances(end=0.0),
            )
        )
