import copy
import json

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.contract import answer
from geometry.limits import LIMITS
from geometry.schema import request_schema
from geometry.workout import work_out
from tests.geometry.samples import ask, steady

PLAIN = {
    "board": {
        **{"scale": "25 1/2 in", "frets": 22, "nut_width": 43, "heel_width": 57, "overhang": 8, "thickness": 6.35},
        "radius": {"nut": "10 in", "heel": "16 in"},
    },
    "wire": {"tang": 1.6, "kerf": 0.58},
}
FULL = {
    "board": {
        **{"scale": {"bass": 685.8, "treble": 647.7, "square_fret": 7, "inset": 3.5}, "frets": 24, "nut_width": 43},
        **{"heel_width": 57, "overhang": 8, "nut_ledge": 0, "thickness": 6.35, "radius": 254},
    },
    "wire": {"tang": 1.6, "kerf": 0.58, "clearance": 0.3},
    "slotting": "after radiusing",
    "web_min": 1.5,
    "allowances": {"edge": 3, "end": 10, "proving": 25, "flatten": 0.4, "skim": 0.15, "sanding": 0.15},
    "blank": {"length": 600, "width": 70, "thickness": 8.5},
    "cutter": {"diameter": 16, "max_depth": 3},
    "scallop_max": 0.05,
    "jig": {
        **{"span": 900, "end_clearance": 60, "rail_spacing": 120, "rail_diameter": 20, "rail_plane": 110},
        **{"riser": 30, "packing": 0.2, "edge_tolerance": 0.05, "former_margin": 10},
    },
    "formers": [{"name": "A", "radius": 300.0, "apex": 105.0, "count": 2}],
    "climate": {
        **{"temperature_c": 21, "humidity": 45, "blank_mc": 9.5, "season_low": 30, "season_high": 60},
        **{"c_radial": 0.00092, "c_tangential": 0.00201, "grain": "quarter"},
    },
}
KEYS = {
    "": ["board", "thickness", "slots", "blank_needed", "blank_margin", "corners", "passes", "setup"]
    + ["formers_to_make", "climate", "warnings"],
    "board": ["length", "overall", "frets"],
    "thickness": ["finished", "after_radiusing", "before_radiusing", "intake_min"],
    "slots": ["depth_setting", "deepest_fret", "web_least", "void_at_centre"],
    "blank_needed": ["length", "width", "thickness"],
    "blank_margin": ["length", "width", "thickness"],
    "corners": ["head", "heel"],
    "setup": ["head_former", "heel_former", "nut_at", "nut_radius", "heel_radius", "edge_error", "apex_drift", "fits"],
    "climate": ["emc", "ready", "season_change"],
    "passes": ["count", "step_deg", "half_angle_deg", "scallop", "depth_levels", "list"],
}
FRET_KEYS = ["fret", "from_nut", "from_previous", "width", "radius", "sagitta", "edge_thickness", "bass", "treble"]
PASS_KEYS = ["pass", "angle_deg", "depth", "head_arc", "head_square", "heel_arc", "heel_square"]


def changed(sample, path, value):
    """Copy a request with one thing in it changed; a value of ... takes it out."""
    found = copy.deepcopy(sample)
    *parents, last = path.split(".")
    inner = found
    for key in parents:
        inner = inner[int(key)] if key.isdigit() else inner[key]
    if value is ...:
        del inner[last]
    else:
        inner[last] = value
    return found


def asked(request):
    text, code = answer(json.dumps(request))
    return json.loads(text), code


def errors(data):
    text, code = answer(data)
    found = json.loads(text)
    assert code == 2 and list(found) == ["errors"] and found["errors"]
    assert all(set(error) == {"field", "message"} and error["message"].endswith(".") for error in found["errors"])
    return {error["field"]: error["message"] for error in found["errors"]}


def test_the_published_request():
    result, code = asked(PLAIN)
    assert code == 0
    assert result["board"]["length"] == pytest.approx(473.945333, abs=5e-7)
    assert result["slots"]["depth_setting"] == pytest.approx(3.198602, abs=5e-7)
    assert result["slots"]["web_least"] == pytest.approx(3.451398, abs=5e-7)
    assert list(result["blank_needed"].values()) == pytest.approx([518.945333, 63, 7.45], abs=5e-7)


def test_all_names_are_those_of_the_contract():
    result, code = asked({**FULL, "slotting": "before radiusing"})
    assert code == 0
    for part, keys in KEYS.items():
        assert list(result[part] if part else result) == keys
    assert list(result["board"]["frets"][3]) == [*FRET_KEYS, "slot_depth", "web"]
    assert list(result["passes"]["list"][0]) == PASS_KEYS
    assert None not in result["passes"]["list"][0].values()
    assert [list(former) for former in result["formers_to_make"]] == [["end", "radius", "apex", "half_width"]] * 2
    assert [former["end"] for former in result["formers_to_make"]] == ["head", "heel"]
    assert result["passes"]["list"][0]["pass"] == -(result["passes"]["count"] // 2)
    assert all(set(warning) == {"code", "level", "message", "value", "limit"} for warning in result["warnings"])


def test_a_flat_board_has_no_radius():
    result, _ = asked(changed(PLAIN, "board.radius", None))
    assert {line["radius"] for line in result["board"]["frets"]} == {None}


def test_it_is_the_same_service_that_the_pages_use():
    result, _ = asked(PLAIN)
    assert result["board"]["frets"][7]["sagitta"] == work_out(ask()).board.frets[7].sagitta


def test_units_are_carried_by_strings():
    for scale in ("25 1/2 in", '25-1/2"', "647.7 mm", "64.77cm", "64,77 cm", '25½"', 647.7):
        result, code = asked(changed(PLAIN, "board.scale", scale))
        assert code == 0 and result["board"]["frets"][12]["from_nut"] == pytest.approx(323.85)
    assert "unit is missing" in errors(json.dumps(changed(PLAIN, "board.scale", "648")))["board.scale"]


def test_arrays_are_answered_in_order_with_errors_in_their_place():
    good, bad, thin = PLAIN, changed(PLAIN, "board.nut_width", -1), changed(PLAIN, "board.thickness", 4)
    found, code = asked([good, bad, thin, 7])
    assert code == 2
    assert found[0] == asked(good)[0]
    assert found[1]["errors"][0]["field"] == "board.nut_width"
    assert found[2]["warnings"][0]["code"] == "thin-web"
    assert found[3] == {"errors": [{"field": "", "message": "This must be an object."}]}
    assert asked([good, thin])[1] == 0
    assert asked([]) == ([], 0)


def test_all_errors_at_once():
    request = changed(changed(PLAIN, "board.nut_width", "wide"), "board.frets", 0)
    request = changed(changed(request, "wire.tang", ...), "wire.colour", "gold")
    request = {**request, "slotting": "late", "extra": 1, "jig": {}}
    found = errors(json.dumps(request))
    assert {"board.nut_width", "board.frets", "wire.tang", "wire.colour", "slotting", "extra", "cutter"} <= set(found)
    assert {"jig.span", "jig.riser"} <= set(found)
    assert found["wire.colour"] == "There is no such field."
    assert found["wire.tang"] == "This is missing."


WRONG = {
    **{
        f"{path}={value!r}": (path, value)
        for path in ("board.scale", "web_min", "board.radius.nut")
        for value in ([], True)
    },
    **{f"missing {path}": (path, ...) for path in ("board", "wire", "board.scale", "board.radius", "wire.kerf")},
    "unknown": ("board.colour", 1),
    "unknown at the top": ("colour", 1),
    "null board": ("board", None),
    "null blank": ("blank", None),
    "array for an object": ("wire", [1.6, 0.58]),
    "half a fret": ("board.frets", 21.5),
    "frets in words": ("board.frets", "22"),
    "frets with a unit": ("board.frets", "22 mm"),
    "too large": ("board.nut_width", 1e300),
    "huge integer": ("board.nut_width", 10**300),
    "negative": ("board.nut_width", -43),
    "zero": ("board.scale", 0),
    "no unit": ("board.nut_width", "43"),
    "a power of ten": ("board.nut_width", "4.3e1 mm"),
    "division by zero": ("board.nut_width", "1/0 in"),
    "two ways": ("board.nut_width", "1,234 mm"),
    "empty text": ("board.nut_width", ""),
    "jig without cutter": ("jig", FULL["jig"]),
    "formers without jig": ("formers", []),
    "slotting": ("slotting", "during radiusing"),
    "slotting of another type": ("slotting", {"when": "before radiusing"}),
    "climate as a list": ("climate", []),
    "end radii without heel": ("board.radius", {"nut": 254}),
    "scales without square fret": ("board.scale", {"bass": 685.8, "treble": 647.7}),
    "an unknown side": ("board.scale", {"bass": 685.8, "treble": 647.7, "square_fret": 7, "middle": 1}),
    "humidity in words": ("climate", {**FULL["climate"], "humidity": "45 %"}),
    "grain": ("climate", {**FULL["climate"], "grain": "burr"}),
}
RIGHT = {
    "plain": ("board.frets", 22),
    "whole float": ("board.frets", 22.0),
    "flat": ("board.radius", None),
    "one radius": ("board.radius", "12 in"),
    "two scales": ("board.scale", FULL["board"]["scale"]),
    "two scales with units": ("board.scale", {"bass": "27 in", "treble": "25½ in", "square_fret": 7}),
    "ledge": ("board.nut_ledge", '1/4"'),
    "some allowances": ("allowances", {"edge": 5}),
    "no allowances": ("allowances", {}),
    "cutter": ("cutter", FULL["cutter"]),
    "blank": ("blank", {"length": "21 in", "width": "2 3/4 in", "thickness": "9 mm"}),
    "climate": ("climate", FULL["climate"]),
    "late slots": ("slotting", "after radiusing"),
}


@pytest.mark.parametrize(("path", "value"), WRONG.values(), ids=WRONG)
def test_the_schema_and_the_reader_refuse_alike(path, value):
    request = changed(PLAIN, path, value)
    found = errors(json.dumps(request))
    assert any(field.startswith(path.split(".")[0]) or field in ("cutter", "jig") for field in found)
    validator = jsonschema.Draft202012Validator(request_schema())
    assert not validator.is_valid(request)


@pytest.mark.parametrize(("path", "value"), RIGHT.values(), ids=RIGHT)
def test_the_schema_and_the_reader_take_alike(path, value):
    request = changed(PLAIN, path, value)
    assert asked(request)[1] == 0
    jsonschema.Draft202012Validator(request_schema()).validate(request)


FORMERS = {
    "no name": {"name": ""},
    "blank name": {"name": "  "},
    "long name": {"name": "A" * 61},
    "number for a name": {"name": 12},
    "radius": {"radius": 0},
    "count": {"count": -1},
    "unknown": {"colour": "red"},
}


@pytest.mark.parametrize("change", FORMERS.values(), ids=FORMERS)
def test_the_schema_and_the_reader_refuse_the_same_formers(change):
    request = {**FULL, "formers": [FULL["formers"][0], {**FULL["formers"][0], "name": "B", **change}]}
    assert list(errors(json.dumps(request))) == [f"formers[1].{next(iter(change))}"]
    assert not jsonschema.Draft202012Validator(request_schema()).is_valid(request)


def test_the_schema_is_sound_and_takes_the_full_request_and_arrays():
    schema = request_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    validator = jsonschema.Draft202012Validator(schema)
    for request in (PLAIN, FULL, [PLAIN, FULL], []):
        validator.validate(request)
        assert asked(request)[1] == 0
    assert schema["$defs"]["request"]["properties"]["web_min"]["default"] == 1.5
    assert json.loads(json.dumps(schema)) == schema


def test_every_limit_stands_in_the_schema():
    text = json.dumps(request_schema())
    for limit in LIMITS.values():
        assert limit.name[1:] in text


@steady
@given(
    st.sampled_from(
        sorted(path for path in LIMITS if path.startswith(("board.", "wire.", "web_min")) and "scale" not in path)
    ),
    st.one_of(
        st.floats(allow_nan=False, allow_infinity=False),
        st.integers(-5, 500),
        st.booleans(),
        st.none(),
        st.text(max_size=6),
    ),
)
def test_the_schema_and_the_reader_agree_on_anything(path, value):
    request = changed(FULL, "board.radius", {"nut": 254, "heel": 254}) if path.startswith("board.radius.") else FULL
    request = changed(request, path, value)
    own = {field for field in _fields(request) if field.startswith(path)}
    assert (not own) == jsonschema.Draft202012Validator(request_schema()).is_valid(request)


def _fields(request):
    """Fields refused for themselves: not for how they stand to one another, which no schema can say."""
    from geometry.errors import GeometryError
    from geometry.reader import read_request

    try:
        read_request(request)
    except GeometryError as error:
        return [problem.field for problem in error.problems]
    return []


TEXT = json.dumps(PLAIN)
SPOILT = {
    "empty": b"",
    "not JSON": b"{board: 1}",
    "cut short": TEXT[:50].encode(),
    "two values": b"{} {}",
    "not UTF-8": b'{"board": "\xff\xfe"}',
    "UTF-16": TEXT.encode("utf-16"),
    "deep": b"[" * 200_000,
    "deep objects": b'{"a":' * 100_000,
    "deep inside": TEXT.replace("43", "[" * 100_000 + "]" * 100_000).encode(),
    "null": b"null",
    "a string": b'"board"',
    "a number": b"17",
    "true": b"true",
    "a control character": b'{"board": "\x00"}',
}


@pytest.mark.parametrize("data", SPOILT.values(), ids=SPOILT)
def test_spoilt_text_is_an_error_and_never_a_traceback(data):
    assert set(errors(data)) == {""} or b"43" not in data


def test_literals_that_are_no_json():
    for literal in ("NaN", "Infinity", "-Infinity", "1e400", "9" * 5000):
        found = errors(TEXT.replace('"nut_width": 43', f'"nut_width": {literal}'))
        assert list(found) == ["board.nut_width"]


def test_keys_given_twice():
    found = errors(TEXT.replace('"tang": 1.6', '"tang": 1.6, "tang": 1.7'))
    assert found == {"wire.tang": "This field is there twice."}


def test_odd_keys_are_echoed_short_and_in_ascii():
    found = errors(json.dumps({**PLAIN, "x" * 500: 1, "\ud800": 2, "ключ": 3}))
    assert len(found) == 3 and max(map(len, found)) <= 41
    text, _ = answer(json.dumps({**PLAIN, "ключ": 3}))
    assert text.isascii()


def test_a_byte_order_mark_is_not_in_the_way():
    assert answer(b"\xef\xbb\xbf" + TEXT.encode())[1] == 0


@steady
@given(
    st.recursive(
        st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=5)),
        lambda inner: st.one_of(
            st.lists(inner, max_size=4),
            st.dictionaries(st.sampled_from([*FULL, *FULL["board"], *FULL["jig"], "name", "x"]), inner, max_size=6),
        ),
        max_leaves=20,
    )
)
def test_anything_at_all_gets_an_answer(value):
    text, code = answer(json.dumps(value))
    assert code in (0, 2)
    json.loads(text, parse_constant=pytest.fail)
