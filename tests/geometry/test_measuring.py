"""Jigs and formers measured wrong: which measure, and how far."""

import math
import re
from dataclasses import replace

import pytest

from geometry.former import former_for
from geometry.measuring import UNKNOWN, check_cutter, check_former, check_jig
from geometry.request import Cutter, Former, Jig
from geometry.units import LengthStyle

JIG = Jig(span=900, end_clearance=60, rail_spacing=120, rail_diameter=20, rail_plane=110, riser=30)
FORMER = Former("10", *former_for(JIG, 254, 6.15))


def only(problems: list) -> tuple[str, str]:
    assert len(problems) == 1, problems
    return problems[0].field, problems[0].message


def test_a_jig_and_its_formers_are_right() -> None:
    assert check_jig(JIG) == []
    assert check_former(FORMER, JIG) == []
    assert check_former(FORMER, JIG, width=150) == []


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"end_clearance": 450}, "end_clearance", "less than 450 mm"),
        ({"rail_spacing": 12}, "rail_spacing", "8 mm into one another"),
        ({"riser": 130}, "riser", r"20\.2 mm above the rails"),
        ({"span": 20}, "span", "from 50 mm"),
        ({"rail_plane": 0}, "rail_plane", "from 1 mm"),
        ({"packing": -1}, "packing", "from 0 mm"),
    ],
)
def test_a_jig_measured_wrong(changes: dict, field: str, says: str) -> None:
    where, words = only(check_jig(replace(JIG, **changes)))
    assert where == field
    assert re.search(says, words), words


def test_what_is_not_known_yet_is_not_judged() -> None:
    assert check_jig(replace(JIG, riser=UNKNOWN, span=UNKNOWN)) == []
    assert only(check_jig(replace(JIG, riser=UNKNOWN, rail_spacing=12)))[0] == "rail_spacing"
    assert check_former(Former("A", UNKNOWN, 105.0), JIG) == []
    assert check_former(Former("A", 300.0, UNKNOWN), JIG) == []
    assert check_former(FORMER, replace(JIG, rail_spacing=UNKNOWN)) == []


@pytest.mark.parametrize(
    ("former", "jig", "width", "field", "says"),
    [
        (Former("A", 45, 105), JIG, None, "radius", "10 mm too far apart"),
        (Former("A", 300, 105), JIG, 620, "width", "20 mm too much"),
        (Former("A", 300, 105), JIG, 100, "width", r"116\.2 mm apart.*100 mm wide.*16\.1\d* mm too narrow"),
        (Former("A", 300, 3), JIG, None, "apex", "below the bed"),
        (Former("A", 300, 20), JIG, None, "apex", r"24\.1\d mm above the bed, 6\.\d+ mm below the top of"),
        (
            Former("A", 60, 100),
            replace(JIG, rail_plane=130, riser=1),
            None,
            "apex",
            r"rails lie 76\.06 mm.*come out 52\.7\d mm below",
        ),
        (Former("A", 70, 105), JIG, None, "apex", "more than the radius"),
        (Former("A", 5, 105), JIG, None, "radius", "from 10 mm"),
    ],
)
def test_a_former_measured_wrong(former: Former, jig: Jig, width: float | None, field: str, says: str) -> None:
    where, words = only(check_former(former, jig, width=width))
    assert where == field
    assert re.search(says, words), words


def test_the_cut_below_the_bed_by_hand() -> None:
    """sqrt(70² - 60²) = 36.0555 over a centre at 40: 53.9445 below a rail plane of 130, less 1.2 of riser."""
    _, words = only(check_former(Former("A", 60, 100), replace(JIG, rail_plane=130, riser=1)))
    assert float(re.search(r"come out ([\d.]+) mm", words)[1]) == pytest.approx(53.9445 - 1.2, abs=0.01)


def test_where_the_rails_touch_is_what_the_words_say() -> None:
    """On an arc of 300 rails of 20, 120 apart, touch at 60 x 300/310 from the middle (similar triangles)."""
    _, words = only(check_former(Former("A", 300, 105), JIG, width=100))
    assert float(re.search(r"touch this former ([\d.]+) mm", words)[1]) == pytest.approx(2 * 60 * 300 / 310, abs=0.1)


def test_inches_are_said_in_inches() -> None:
    _, words = only(check_jig(replace(JIG, riser=130), LengthStyle.INCH_DECIMAL))
    assert " in " in words
    assert "mm" not in words


def test_a_cutter_without_size() -> None:
    assert check_cutter(Cutter(16, 3)) == []
    assert [problem.field for problem in check_cutter(Cutter(0.1, math.inf))] == ["diameter", "max_depth"]
