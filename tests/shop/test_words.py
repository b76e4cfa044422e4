"""What forms say: a maker's words in every box, and one thing at a time."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from shop.models import Cutter, Former, User
from tests.factories import make_blank, make_build, make_former, make_jig, make_pattern, make_species, press, tap
from tests.shop.test_builds import payload as of_build

pytestmark = pytest.mark.django_db

# How Django itself begins to speak of values, in its forms and validators (django/forms/fields.py, core/validators.py).
DJANGO = re.compile(r"This field is|Ensure |Select a valid|Null characters|Enter a |Null-|already exists")
SPOILT = ["", "a\0b", "x" * 5000, "-1", "9" * 30]


def words_of(form: object) -> str:
    return " ".join(message for messages in form.errors.values() for message in messages)


@pytest.mark.parametrize("spoilt", SPOILT, ids=["empty", "null", "long", "negative", "large"])
def test_no_form_speaks_of_values(owners_bench: Client, maker: User, spoilt: str) -> None:
    blank, jig = make_blank(make_build(), done=2), make_jig()
    former: Former = make_former(jig)
    free = make_blank()
    at = f"/blanks/{blank.number}/"
    forms = {
        f"{at}hold/": ("hold_form", press(blank), ("hold-reason",)),
        f"{at}rework/": ("rework_form", press(blank), ("rework-stage", "rework-reason")),
        f"{at}measure/": ("measure_form", press(blank), ("length", "width", "thickness")),
        f"/blanks/{free.number}/put/": ("spec_form", press(free), ("spec",)),
        f"/kit/jigs/{jig.pk}/stand/": ("form", tap(seen=0, head=former.pk), ("head", "heel", "riser", "cutter")),
        "/kit/cutters/new/": (
            "form",
            tap(),
            ("name", "diameter", "max_depth", "sharpened_on", "minutes_since_sharpening", "remarks"),
        ),
        "/kit/blocks/new/": ("form", tap(), ("name", "radius", "length", "count", "place")),
        "/builds/new/": ("form", of_build(), ("title", "number", "due_on", "frets", "square_fret", "wire", "remarks")),
        "/intake/": ("form", tap(), ("species", "cut", "how_many", "length", "moisture", "received_on", "cost", "lot")),
    }
    found = 0
    for address, (name, sent, boxes) in forms.items():
        answer = owners_bench.post(address, sent | dict.fromkeys(boxes, spoilt))
        if answer.status_code in (302, 409):  # "-1" is an odd reason to hold a board, and one
            continue
        form = answer.context[name]
        found += len(form.errors)
        assert not DJANGO.search(words_of(form)), (address, form.errors)
    assert found > 10


@pytest.mark.parametrize("spoilt", SPOILT[:2])
def test_the_sign_in_neither(client: Client, maker: User, spoilt: str) -> None:
    answer = client.post("/sign-in/", {"username": spoilt, "password": spoilt})
    assert answer.status_code == 422
    assert answer.context["form"].errors
    assert not DJANGO.search(words_of(answer.context["form"]))


@pytest.mark.parametrize(
    ("box", "typed"),
    [("frets", "61"), ("frets", "0"), ("frets", "-1"), ("square_fret", "61"), ("square_fret", "x"), ("title", "")],
)
def test_one_thing_is_said_beside_a_box(bench: Client, box: str, typed: str) -> None:
    answer = bench.post("/builds/new/", of_build(bass_scale="686", **{"square_fret": "7", box: typed}))
    assert answer.status_code == 422
    assert len(answer.context["form"].errors[box]) == 1


def test_what_was_typed_comes_back_under_the_labels_of_the_page(
    owners_bench: Client, other_bench: Client, maker: User
) -> None:
    blank, build, cutter = make_blank(make_build(), done=2), make_build("B902"), Cutter.objects.first()
    walnut = make_species("Walnut")
    late = {
        f"/blanks/{blank.number}/finish/radiusing/": (
            press(blank, head_treble="6.31") | {"seen": 0},
            ["Head, treble side", "6.31"],
        ),
        f"/blanks/{blank.number}/rework/": (
            press(blank, **{"rework-stage": "thicknessing", "rework-reason": "Thin"}) | {"seen": 0},
            ["Back to", "Thicknessing", "Reason"],
        ),
        f"/builds/{build.number}/change/": (
            of_build(seen=7, number="B902", species=walnut.pk, nut_width="42"),
            ["Width at the nut", "Walnut", "Glued in"],
        ),
        f"/kit/cutters/{cutter.pk}/": (
            tap(seen=7, name="A", **{"initial-minutes_since_sharpening": "3.3"}),
            ["Name"],
        ),
    }
    for address, (sent, words) in late.items():
        answer = owners_bench.post(address, sent)
        assert answer.status_code == 409
        page = answer.content.decode()
        for word in words:
            assert re.search(rf"<(dt|dd|th|td)\b[^>]*>{word}(, mm)?</", page), (address, word, answer.context["rows"])
        assert "_" not in " ".join(row.label for row in answer.context["rows"])
        assert "3.3" not in " ".join(f"{row.typed} {row.kept}" for row in answer.context["rows"])


def test_a_heel_as_at_the_nut_follows_the_nut(bench: Client) -> None:
    """What is left empty stays empty: another radius at the nut makes no compound board by itself."""
    for address, spec in (("/builds/B901/change/", make_build()), ("/kit/patterns/{}/", make_pattern())):
        address = address.format(spec.pk)
        form = bench.get(address).context["form"]
        assert form["radius_heel"].value() is None
        sent = {name: form[name].value() for name in form.fields if form[name].value() is not None}
        assert bench.post(address, {**sent, "radius_nut": "10 in", **tap(seen=0)}).status_code == 302
        spec.refresh_from_db()
        assert spec.radius_nut == spec.radius_heel == 254


def test_a_compound_radius_is_shown_at_both_ends(bench: Client) -> None:
    make_build(radius_nut=254, radius_heel=406)
    form = bench.get("/builds/B901/change/").context["form"]
    assert (form["radius_nut"].value(), form["radius_heel"].value()) == ("254.0", "406.0")
