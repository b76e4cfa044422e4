"""Setting up a jig step by step, and the test board at its end."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from geometry.jigtest import TestBoard, expect
from shop.models import Former, Jig, JigTest, Shop, User
from tests.factories import make_former, make_jig, tap

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(owners_bench: Client) -> Client:
    """The kit is the owner's to change."""
    return owners_bench


BED = {"name": "New jig", "span": "900", "end_clearance": "60", "rule_zero": "0"}
RAILS = {"rail_spacing": "120", "rail_diameter": "20", "rail_plane": "110"}
BOARD = {"riser": "30", "packing": "0.2", "edge_tolerance": "0.05", "former_margin": "10"}
PAIR = {"alike": "yes", "head-name": "10", "head-by": "radius", "head-radius": "323.091", "head-apex": "105.441"}


def hidden(page: str) -> dict[str, str]:
    """What a page's form carries along besides what is typed on it."""
    return dict(re.findall(r'<input type="hidden" name="([\w-]+)" value="([^"]*)"', page))


def step(client: Client, page: str, typed: dict[str, str], go: str = "next") -> Any:
    """Press a button of a step: only what its page carries and what is typed on it is sent."""
    return client.post("/kit/jigs/new/", {**hidden(page), **typed, "go": go})


def walk(client: Client, *groups: dict[str, str]) -> Any:
    answer = client.get("/kit/jigs/new/")
    for group in groups:
        assert answer.status_code == 200, answer.content.decode()
        answer = step(client, answer.content.decode(), group)
    return answer


def test_all_the_way(bench: Client, owner: User, shop: Shop) -> None:
    answer = walk(bench, BED, RAILS, BOARD, PAIR)
    jig, former = Jig.objects.get(), Former.objects.get()
    assert answer.status_code == 302
    assert answer["Location"] == f"/kit/jigs/{jig.pk}/test/"
    assert (jig.span, jig.rail_plane, jig.riser, jig.packing) == (900, 110, 30, Decimal("0.2"))
    assert (former.jig, former.count, jig.head_former, jig.heel_former) == (jig, 2, former, former)
    assert jig.set_by == owner
    assert Shop.objects.get().jig == jig, "the first jig is the one in use"
    page = bench.get(answer["Location"]).content.decode()
    assert "Fit former 10 at the head and 10 at the heel" in page


def test_two_unlike_formers(bench: Client, shop: Shop) -> None:
    heel = {"heel-name": "16", "heel-by": "radius", "heel-radius": "473.838", "heel-apex": "103.788"}
    assert walk(bench, BED, RAILS, BOARD, PAIR | {"alike": "no"} | heel).status_code == 302
    jig = Jig.objects.get()
    assert (jig.head_former.name, jig.heel_former.name) == ("10", "16")


def test_back_and_on_again_loses_nothing(bench: Client, shop: Shop) -> None:
    at_board = walk(bench, BED, RAILS).content.decode()
    back = step(bench, at_board, {"riser": "31,5"}, go="back").content.decode()
    assert 'value="120"' in back, "the rails as they were typed"
    back = step(bench, back, RAILS | {"rail_spacing": "130"}, go="back").content.decode()
    assert 'value="New jig"' in back
    at_rails = step(bench, back, BED)
    assert 'value="130"' in at_rails.content.decode()
    at_board = step(bench, at_rails.content.decode(), RAILS | {"rail_spacing": "130"}).content.decode()
    assert 'value="31,5"' in at_board
    assert not Jig.objects.exists()


@pytest.mark.parametrize(
    ("groups", "says"),
    [
        (({**BED, "span": "0"},), "cannot be zero"),
        (({**BED, "span": ""},), "span"),
        (({**BED, "end_clearance": "500"},), "leaves no bed"),
        ((BED, {**RAILS, "rail_spacing": "12"}), "8 mm into one another"),
        ((BED, RAILS, {**BOARD, "riser": "140"}), "above the rails"),
        ((BED, RAILS, BOARD, {**PAIR, "head-radius": "45"}), "too far apart"),
        ((BED, RAILS, BOARD, {**PAIR, "head-apex": "8"}), "below the top of the riser"),
        ((BED, RAILS, BOARD, {**PAIR, "head-name": ""}), "head-name"),
        ((BED, RAILS, BOARD, {**PAIR, "alike": "no"}), "heel-radius"),
        (
            (
                *(BED, RAILS, BOARD),
                {
                    **PAIR,
                    "alike": "no",
                    "heel-name": "10",
                    "heel-by": "radius",
                    "heel-radius": "323",
                    "heel-apex": "105.4",
                },
            ),
            "Both have this name",
        ),
    ],
)
def test_a_step_that_is_wrong_is_shown_again(bench: Client, shop: Shop, groups: tuple, says: str) -> None:
    answer = walk(bench, *groups)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says in page
    assert answer.context["step"] == len(groups) - 1
    assert "Not right" in page or "errorlist" in page
    for value in groups[-1].values():
        assert not value or f'value="{value}"' in page, "what was typed stays"
    assert not Jig.objects.exists()
    assert not Former.objects.exists()


def test_an_earlier_step_tampered_with_is_shown_again(bench: Client, shop: Shop) -> None:
    page = walk(bench, BED, RAILS).content.decode()
    answer = bench.post("/kit/jigs/new/", {**hidden(page), **BOARD, "span": "none", "go": "next"})
    assert answer.status_code == 422
    assert answer.context["step"] == 0


def test_questions_are_answered_on_the_way(bench: Client, shop: Shop) -> None:
    first = bench.get("/kit/jigs/new/").content.decode()
    sent = {**hidden(first), **BED, "span": "400", "end_clearance": "20", "go": "next"}
    asked = bench.post("/kit/jigs/new/", sent)
    assert asked.status_code == 422
    (question,) = asked.context["asked"]["questions"]
    answer = bench.post("/kit/jigs/new/", sent | {"sure": question.key})
    assert answer.context["step"] == 1
    assert question.key in re.findall(r'name="sure" value="([^"]*)"', answer.content.decode()), "not asked again"


@pytest.mark.parametrize("sent", [{"step": "9"}, {"step": "x"}, {}])
def test_a_form_that_is_not_ours(bench: Client, shop: Shop, sent: dict[str, str]) -> None:
    assert bench.post("/kit/jigs/new/", sent).status_code == 400


# --- the test board ---------------------------------------------------------------------------------------------------


@pytest.fixture
def jig(db: None) -> Jig:
    jig = make_jig()
    make_former(jig)
    make_former(jig, "16", 406.4)
    return jig


def board_of(jig: Jig, **changes: str) -> dict[str, Any]:
    former = jig.formers.get(name="10")
    sizes = {"length": "400", "width": "100", "thickness": "12", "read_to": "0.02"}
    return {"head": former.pk, "heel": former.pk, **sizes, **changes}


def readings_with(jig: Jig, off: float) -> dict[str, str]:
    """What a caliper reads when the formers really stand `off` higher than measured."""
    former = jig.formers.get(name="10").as_request()
    really = type(former)(former.name, former.radius, former.apex + off)
    ends = expect(jig.as_request(), really, really, TestBoard(400, 100, 12))
    read = {}
    for name, end in zip(("head", "heel"), ends, strict=True):
        read |= {f"{name}_centre": end.centre, f"{name}_bass": end.side, f"{name}_treble": end.side}
    return {name: f"{value:.5f}" for name, value in read.items()}


def test_the_page_says_what_to_expect(bench: Client, jig: Jig) -> None:
    page = bench.get(f"/kit/jigs/{jig.pk}/test/", board_of(jig))
    assert page.status_code == 200
    head, heel = page.context["expected"]
    assert head.radius == pytest.approx(254 + 12 - 6.15)
    text = page.content.decode()
    assert f"{head.radius:.1f} mm" in text
    assert f"{heel.side:.2f} mm" in text


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"length": "900"}, "120 mm too long"),
        ({"width": "0"}, "cannot be zero"),
        ({"width": "5 cows"}, "not a unit"),
        ({"thickness": "2"}, "in the middle at least"),
        ({"read_to": "3"}, "tells nothing"),
        ({"head": "999"}, ""),
    ],
)
def test_a_board_that_does_not_suit(bench: Client, jig: Jig, changes: dict[str, str], says: str) -> None:
    answer = bench.get(f"/kit/jigs/{jig.pk}/test/", board_of(jig, **changes))
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert list(answer.context["board"].errors) == list(changes)


def test_a_jig_that_is_right(bench: Client, jig: Jig) -> None:
    sent = tap(seen=0, **board_of(jig), **readings_with(jig, 0.0))
    page = bench.post(f"/kit/jigs/{jig.pk}/test/", sent | {"go": "compare"})
    assert page.status_code == 200
    assert "is measured right, as far as this board can tell" in page.content.decode()
    assert 'value="move"' not in page.content.decode()
    assert not JigTest.objects.exists()
    assert bench.post(f"/kit/jigs/{jig.pk}/test/", sent | {"go": "leave"}).status_code == 302
    assert JigTest.objects.get().moved is None
    assert Jig.objects.get().rail_plane == 110


def test_the_rail_plane_is_moved_if_the_person_agrees(bench: Client, jig: Jig, owner: User) -> None:
    address = f"/kit/jigs/{jig.pk}/test/"
    sent = tap(seen=0, **board_of(jig), **readings_with(jig, -2.5))
    page = bench.post(address, sent | {"go": "compare"}).content.decode()
    assert "The heights of this jig are off by 2.50 mm" in page
    assert "Move the rail plane to 107.50 mm" in page
    sent |= {"agreed": hidden(page)["agreed"]}
    assert Jig.objects.get().rail_plane == 110, "nothing is kept by looking"
    apexes = {former.name: former.apex for former in jig.formers.all()}
    assert bench.post(address, sent | {"go": "move"}).status_code == 302
    kept = Jig.objects.get()
    assert kept.rail_plane == Decimal("107.5")
    assert {former.name: former.apex + Decimal("2.5") for former in kept.formers.all()} == apexes
    test = JigTest.objects.get()
    assert (test.moved, test.by, test.head_former) == (Decimal("-2.5"), owner, "10")
    bench.post(address, {**sent, "go": "move"})
    assert JigTest.objects.count() == 1, "a second delivery of the same press"
    assert Jig.objects.get().rail_plane == Decimal("107.5")
    again = bench.post(
        address, tap(seen=1, go="compare", **board_of(kept), **{k: sent[k] for k in readings_with(jig, 0)})
    )
    assert "is measured right" in again.content.decode(), "the same board is now what the jig should make"


def test_readings_changed_after_the_comparison_are_compared_first(bench: Client, jig: Jig) -> None:
    address = f"/kit/jigs/{jig.pk}/test/"
    first = tap(seen=0, go="compare", **board_of(jig), **readings_with(jig, -2.5))
    seen = hidden(bench.post(address, first).content.decode())
    other = tap(seen=0, go="move", agreed=seen["agreed"], **board_of(jig), **readings_with(jig, -4.0))
    answer = bench.post(address, other)
    assert answer.status_code == 200
    assert "Move the rail plane to 106.00 mm" in answer.content.decode()
    assert Jig.objects.get().rail_plane == 110


def test_a_board_that_lies_aside_is_warned_of(bench: Client, jig: Jig) -> None:
    readings = readings_with(jig, 0.0)
    readings |= {"head_treble": f"{float(readings['head_treble']) + 0.4:.2f}"}
    page = bench.post(f"/kit/jigs/{jig.pk}/test/", tap(seen=0, go="compare", **board_of(jig), **readings))
    assert "towards the treble side" in page.content.decode()


def test_the_person_may_refuse(bench: Client, jig: Jig) -> None:
    sent = tap(seen=0, go="leave", **board_of(jig), **readings_with(jig, -2.5))
    assert bench.post(f"/kit/jigs/{jig.pk}/test/", sent).status_code == 302
    assert Jig.objects.get().rail_plane == 110
    test = JigTest.objects.get()
    assert test.moved is None
    assert test.head_over == pytest.approx(Decimal("2.5"), abs=Decimal("0.2"))
    assert "left as it was" in bench.get(f"/kit/jigs/{jig.pk}/").content.decode()


def test_a_jig_changed_meanwhile(bench: Client, jig: Jig) -> None:
    Jig.objects.update(version=3)
    sent = tap(seen=0, go="move", agreed="-2.50", **board_of(jig), **readings_with(jig, -2.5))
    assert bench.post(f"/kit/jigs/{jig.pk}/test/", sent).status_code == 409
    assert not JigTest.objects.exists(), "nothing half kept"
    assert Jig.objects.get().rail_plane == 110


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"head_centre": ""}, "head_centre"),
        ({"head_bass": "x"}, "head_bass"),
        ({"heel_centre": "8"}, "heel_centre"),
    ],
)
def test_readings_that_cannot_be(bench: Client, jig: Jig, changes: dict[str, str], field: str) -> None:
    sent = tap(seen=0, go="compare", **board_of(jig), **readings_with(jig, 0.0) | changes)
    answer = bench.post(f"/kit/jigs/{jig.pk}/test/", sent)
    assert answer.status_code == 422
    assert list(answer.context["readings"].errors) == [field]


def test_unlike_ends_are_warned_of(bench: Client, jig: Jig) -> None:
    readings = readings_with(jig, 0.0) | {
        f"head_{at}": readings_with(jig, -6.0)[f"head_{at}"] for at in ("bass", "treble")
    }
    page = bench.post(f"/kit/jigs/{jig.pk}/test/", tap(seen=0, go="compare", **board_of(jig), **readings))
    assert "No rail plane explains both" in page.content.decode()


def test_a_jig_without_formers_says_so(bench: Client) -> None:
    bare = make_jig("Bare")
    page = bench.get(f"/kit/jigs/{bare.pk}/test/")
    assert page.status_code == 200
    assert "There are no formers on this jig yet" in page.content.decode()
