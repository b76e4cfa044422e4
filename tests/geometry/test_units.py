import re
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.errors import GeometryError, LengthError
from geometry.units import (
    LengthStyle,
    Unit,
    format_figure,
    format_fraction,
    format_inch,
    format_length,
    format_mm,
    format_small,
    format_stock,
    length_pattern,
    parse_length,
    rounded,
)
from tests.geometry.samples import steady


def unbroken(words):
    """Put no-break spaces and a real minus where a keyboard has others."""
    return words.replace(" ", "\u00a0").replace("-", "\u2212")


READ = {
    "648": "648",
    "648 mm": "648",
    "648mm": "648",
    " 648.25 MM ": "648.25",
    "64,8 cm": "648",
    "64.8 centimetres": "648",
    "25.5 in": "647.7",
    '25.5"': "647.7",
    "25.5''": "647.7",
    "25 1/2 in": "647.7",
    '25-1/2"': "647.7",
    "25–1/2″": "647.7",
    "25 1/2 inches": "647.7",
    '7¼"': "184.15",
    "7 ¼ in": "184.15",
    "25½ in": "647.7",
    "1⁄4 in.": "6.35",
    "3/2 in": "38.1",
    ".5 in": "12.7",
    "5.": "5",
    "0,125": "0.125",
    "648\u00a0mm": "648",
    "6 1/2 mm": "6.5",
    "0": "0",
    # As `format_fraction` writes it, and as a keyboard does.
    "18\u00a053/64\u00a0in\u00a0+\u00a00.003": "478.310575",
    "18\u00a053/64\u00a0in\u00a0\u2212\u00a00.003": "478.158175",
    "6 27/64 in - .008": "162.912425",
    "1 in + 0.004": "25.5016",
    # As digital calipers send it: with a sign, without a nought, with noughts to spare, with a unit.
    "+6.93mm": "6.93",
    "6,93": "6.93",
    ".2735in": "6.9469",
    "+.2735 in": "6.9469",
    "+0006.93": "6.93",
}

REFUSED = {
    "": "no length",
    "   ": "no length",
    "1/0": "0 below",
    "--3": "cannot be read",
    "-3": "minus",
    "++3": "cannot be read",
    "+": "cannot be read",
    "12 ft 3": "Feet",
    "25'": "Feet",
    "2'6\"": "Feet",
    "NaN": "cannot be read",
    "inf": "cannot be read",
    "1e400": "power of ten",
    "1e3 mm": "power of ten",
    "9" * 41: "too long",
    "9" * 40: "100 m",
    "1.234,5": "point and a comma",
    "1,234": "1234 or 1.234",
    "1,234,567": "one number",
    "25 3/2": "not less than one",
    "1 2": "one number",
    "25 - 1/2": "one number",
    "25-": "not a unit",
    "1//2": "one number",
    "1/2/3": "one number",
    "½¼": "one number",
    "6.4.8": "one number",
    "six": "cannot be read",
    "6 m": "not a unit",
    "6 kg": "not a unit",
    "٣": "cannot be read",
    "６４８": "cannot be read",
    "648\n649": "cannot be read",
    "0x10": "not a unit",
    "\x00": "cannot be read",
    "25 1/2 mm + 0.003": "Only inches",
    "25 1/2 in + 0.03": "not a unit",
    "25 1/2 in+0.003": "not a unit",
    "25 1/2 in + 0.003 in": "not a unit",
    "0 in - 0.004": "less than nothing",
}


@pytest.mark.parametrize(("text", "mm"), READ.items())
def test_reads_what_people_write(text, mm):
    assert parse_length(text) == Decimal(mm)


@pytest.mark.parametrize(("text", "words"), REFUSED.items())
def test_refuses_in_words_that_say_what_would_do(text, words):
    with pytest.raises(LengthError, match=re.escape(words)) as caught:
        parse_length(text)
    assert "Write it like 648, " in str(caught.value)
    assert isinstance(caught.value, GeometryError)


def test_a_bare_number_means_the_unit_asked_for():
    assert parse_length("25 1/2", Unit.INCH) == parse_length("25.5", Unit.INCH) == Decimal("647.7")
    assert parse_length("25 1/2", Unit.MM) == Decimal("25.5")
    assert parse_length("648 mm", Unit.INCH) == 648
    with pytest.raises(LengthError, match="unit is missing"):
        parse_length("648", None)
    with pytest.raises(LengthError, match=r"Write it like 25.5, 25 1/2, 648 mm"):
        parse_length("x", Unit.INCH)


def test_one_minus_is_read_where_it_makes_sense():
    assert parse_length("-1/4 in", allow_negative=True) == Decimal("-6.35")
    assert str(parse_length("-0", allow_negative=True)) in ("0.000000", "0E-6")
    with pytest.raises(LengthError):
        parse_length("--3", allow_negative=True)


def test_published_inch_table():
    # An inch is 25.4 mm exactly (international yard and pound agreement, 1959; from memory). The products are exact.
    table = {
        **{"1/64": "0.396875", "1/32": "0.79375", "3/64": "1.190625", "1/16": "1.5875", "5/64": "1.984375"},
        **{"3/32": "2.38125", "1/8": "3.175", "5/32": "3.96875", "3/16": "4.7625", "1/4": "6.35", "5/16": "7.9375"},
        **{"3/8": "9.525", "1/2": "12.7", "3/4": "19.05", "7 1/4": "184.15", "9 1/2": "241.3", "24 3/4": "628.65"},
        **{"25": "635", "25 1/2": "647.7"},
    }
    for inches, mm in table.items():
        assert parse_length(inches, Unit.INCH) == Decimal(mm)
        assert format_fraction(Decimal(mm)) == unbroken(f"{inches} in")


def test_every_64th_is_exact_at_six_places():
    for n in range(1, 64 * 40):
        assert Fraction(parse_length(f"{n}/64 in")) == Fraction(n, 64) * Fraction(254, 10)


def test_published_half_even_examples():
    # ASTM E29 clause 6.4.3 and the examples that NASA's drawing manual gives for it: an exact 5 goes to the even digit.
    examples = {"1.425": "1.42", "1.435": "1.44", "4.365": "4.36", "4.355": "4.36", "1.655": "1.66", "1.625": "1.62"}
    for given_, printed in examples.items():
        for kind in (Decimal, float):
            assert format_mm(kind(given_), 2, with_unit=False) == printed
    assert format_mm(15.5, 0) == "16 mm"
    assert format_mm(16.5, 0) == "16 mm"


def test_reading_rounds_half_even_at_six_places():
    assert parse_length("0.0000005") == 0
    assert parse_length("0.0000015") == Decimal("0.000002")
    assert parse_length("1/3 in") == Decimal("8.466667")


def test_precision_is_not_invented():
    # NIST Letter Circular 1137: 36 in is 91 cm, 40.1 in is 101.9 cm.
    assert rounded(parse_length("36 in") / 10, 0) == 91
    assert rounded(parse_length("40.1 in") / 10, 1) == Decimal("101.9")


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (647.7, "25 1/2 in"),
        (Decimal("478.31"), "18 53/64 in + 0.003"),
        (478.16, "18 53/64 in - 0.003"),
        (0, "0 in"),
        (0.1, "0 in + 0.004"),
        (6.35, "1/4 in"),
        (-6.35, "-1/4 in"),
        (-25.5, "-1 in - 0.004"),
        (25.4001, "1 in"),
        (25.39, "1 in"),
        (25.3, "1 in - 0.004"),
    ],
)
def test_fractions_of_an_inch(value, words):
    assert format_fraction(value) == unbroken(words)


def test_millimetres_to_a_hundredth_or_a_tenth_as_fits():
    assert format_mm(3.1986) == "3.20 mm"
    assert format_mm(473.945333) == "473.9 mm"
    assert format_mm(473.945333, 2) == "473.95 mm"
    assert format_mm(-473.945333) == "-473.9 mm"
    assert format_inch(647.7) == "25.500 in"
    assert format_inch(6.35, 2, with_unit=False) == "0.25"


@pytest.mark.parametrize("value", [-0.001, -0.0, Decimal("-0.0000"), -1e-300, 0])
def test_zero_has_no_sign(value):
    assert format_mm(value) == "0.00 mm"
    assert format_inch(value) == "0.000 in"
    assert format_fraction(value) == "0\u00a0in"


def test_the_shop_chooses_how_lengths_are_written():
    assert format_length(6.35, LengthStyle.MM) == "6.35 mm"
    assert format_length(6.35, LengthStyle.MM, 1, with_unit=False) == "6.4"
    assert format_length(6.35, LengthStyle.INCH_DECIMAL) == "0.250 in"
    assert format_length(6.35, LengthStyle.INCH_FRACTION) == unbroken("1/4 in")


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (478.16, "18 53/64 in - 0.003"),  # set with a rule
        (25.3, "0.996 in"),  # read on a caliper
        (6.5, "0.256 in"),
        (0.1, "0.004 in"),
        (0.8, "0.031 in"),  # 1/32 in is 0.79375
        (0.37, "0.015 in"),
        (0.396875, "1/64 in"),
        (0, "0 in"),
        (-6.5, "-0.256 in"),
    ],
)
def test_below_an_inch_what_is_no_64th_stands_in_decimals(value, words):
    kept_apart = words if "0." in words and "/" not in words else unbroken(words)
    assert format_length(value, LengthStyle.INCH_FRACTION) == kept_apart


def test_tolerances_and_steps_stand_in_decimals_in_every_style():
    styles = list(LengthStyle)
    assert [format_small(0.1, style) for style in styles] == ["0.10 mm", "0.004 in", "0.004 in"]
    assert [format_small(0.034, style, fine=True, with_unit=False) for style in styles] == ["0.034", "0.0013", "0.0013"]


def test_figures_of_a_fret_table_are_as_fine_far_from_the_nut():
    assert [format_figure(486.004, style) for style in LengthStyle] == ["486.00", "19.134", unbroken("19 9/64 - 0.007")]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), Decimal("NaN"), Decimal("-Infinity")])
@pytest.mark.parametrize("write", [format_mm, format_inch, format_fraction])
def test_what_is_not_finite_is_not_written(write, value):
    with pytest.raises(LengthError, match="finite"):
        write(value)


@steady
@given(st.integers(0, 10**10))
def test_what_is_written_reads_back(micro):
    mm = Decimal(micro).scaleb(-6)
    assert parse_length(format_mm(mm, 6)) == mm
    assert abs(parse_length(format_inch(mm)) - mm) <= Decimal("0.0127")
    for signed in (mm, -mm):
        for with_unit in (True, False):
            text = format_fraction(signed, with_unit=with_unit)
            assert not re.search(r"[ -]", text), "nothing to break at, no hyphen"
            assert abs(parse_length(text, Unit.INCH, allow_negative=True) - signed) <= Decimal("0.012701")


@steady
@given(st.text(st.sampled_from("0123456789.,/-+ ½¼'\"″minchft\u00a0e"), max_size=12))
def test_never_anything_but_a_length_or_words(text):
    for unit in (*Unit, None):
        try:
            value = parse_length(text, unit)
        except LengthError as error:
            assert str(error)
        else:
            assert value.is_finite() and value >= 0 and value == value.quantize(Decimal("0.000001"))


def the_pattern_reads_alike(text):
    matched = bool(len(text) <= 40 and re.search(length_pattern(), text))
    try:
        parse_length(text, None)
    except LengthError as error:
        beyond = ("not less than one", "100 m", "less than nothing")
        return not matched or any(words in str(error) for words in beyond)
    return matched


@steady
@given(st.text(st.sampled_from("0123456789.,/-+ ½¼'\"″mincINCh\u00a0"), max_size=10))
def test_the_schema_pattern_reads_alike(text):
    assert the_pattern_reads_alike(text)


@pytest.mark.parametrize("text", [*READ, *REFUSED, *(f"{text} in" for text in (*READ, *REFUSED))])
def test_the_schema_pattern_reads_the_samples_alike(text):
    assert the_pattern_reads_alike(text)


@pytest.mark.parametrize(
    ("value", "mm", "inches", "fraction"),
    [
        ("700", "700.0", "27.559", "27 9/16"),  # 27.559 in is 27 35.8/64
        ("84", "84.00", "3.307", "3 5/16"),
        ("9.3", "9.30", "0.366", "0.366"),  # below an inch it is read on a caliper
        ("9.525", "9.52", "0.375", "3/8"),
    ],
)
def test_stock_is_written_as_the_rule_reads(value, mm, inches, fraction):
    styles = (LengthStyle.MM, LengthStyle.INCH_DECIMAL, LengthStyle.INCH_FRACTION)
    assert tuple(format_stock(Decimal(value), style).replace("\u00a0", " ") for style in styles) == (
        mm,
        inches,
        fraction,
    )
