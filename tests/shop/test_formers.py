"""Formers: typed, or worked out from a chord and the height over it."""

from __future__ import annotations

import math
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.test import Client

from shop.models import Former, Jig
from tests.factories import make_former, make_hand, make_jig, tap

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(owners_bench: Client) -> Client:
    """The kit is the owner's to change."""
    return owners_bench


@pytest.fixture
def jig(db: None) -> Jig:
    return make_jig()


def typed(**changes: Any) -> dict[str, Any]:
    """A former that cuts 254 mm into 6.15 mm, with the rails where the jig's rail plane is (see tests/geometry)."""
    values = {"name": "10", "by": "radius", "radius": "323.091", "apex": "105.441", "count": "2", "place": ""}
    return tap(seen=0, **{**values, **changes})


def test_a_former_by_its_radius(bench: Client, jig: Jig) -> None:
    answer = bench.post(f"/kit/jigs/{jig.pk}/formers/new/", typed(place="Wall", made_on="2026-01-31"))
    assert answer.status_code == 302, answer.content.decode()
    former = Former.objects.get()
    assert (former.radius, former.count, former.chord) == (Decimal("323.091"), 2, None)
    assert former.cuts == pytest.approx(253.85, abs=0.01)
    assert "Wall" in bench.get("/kit/").content.decode()


def test_a_former_by_chord_and_height_is_shown_before_it_is_kept(bench: Client, jig: Jig) -> None:
    """A chord of 160 and a height of 10 make 325 (Machinery's Handbook, Segments of a Circle: (c² + 4h²)/8h)."""
    sent = typed(by="chord", radius="999", chord="160", chord_height="10", apex="105.4")
    asked = bench.post(f"/kit/jigs/{jig.pk}/formers/new/", sent)
    assert asked.status_code == 422
    (question,) = asked.context["form"].questions
    assert "325.0 mm" in question.words
    assert not Former.objects.exists()
    assert bench.post(f"/kit/jigs/{jig.pk}/formers/new/", sent | {"sure": question.key}).status_code == 302
    former = Former.objects.get()
    assert (former.radius, former.chord, former.chord_height) == (325, 160, 10)
    page = bench.get(f"/kit/jigs/{jig.pk}/formers/{former.pk}/")
    assert page.context["form"]["by"].value() == "chord"
    same = bench.post(f"/kit/jigs/{jig.pk}/formers/{former.pk}/", sent | tap(seen=0, place="Door"))
    assert same.status_code == 302, "nothing is asked again about measures that stay"


def test_inches(bench: Client, jig: Jig) -> None:
    sent = typed(radius='12 3/4"', apex="4.15 in")
    assert bench.post(f"/kit/jigs/{jig.pk}/formers/new/", sent).status_code == 302
    assert Former.objects.get().radius == Decimal("323.85")


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"radius": "45"}, "radius", "10 mm too far apart"),
        ({"radius": ""}, "radius", ""),
        ({"radius": "0"}, "radius", "zero"),
        ({"radius": "-5"}, "radius", "less than nothing"),
        ({"width": "100"}, "width", "too narrow to carry them"),
        ({"width": "700"}, "width", "too much"),
        ({"apex": "10"}, "apex", "below the top of the riser"),
        ({"apex": "200", "radius": "90"}, "apex", "more than the radius"),
        ({"apex": "about 100"}, "apex", "cannot be read"),
        ({"by": "chord", "chord": "100", "chord_height": "60"}, "chord_height", "more than half the chord"),
        ({"by": "chord", "chord": "100", "chord_height": ""}, "chord_height", ""),
        ({"by": "chord", "chord": "60", "chord_height": "20"}, "chord_height", "too far apart"),
        ({"by": "chord", "chord": "9000", "chord_height": "0.001"}, "chord_height", "must be from"),
        ({"by": "neither"}, "by", ""),
        ({"count": "-1"}, "count", ""),
        ({"count": "99999"}, "count", ""),
        ({"made_on": "2999-01-01"}, "made_on", "cannot|can have"),
        ({"name": " "}, "name", ""),
        ({"name": "x" * 61}, "name", ""),
    ],
)
def test_a_wrong_measure_is_said_beside_it(
    bench: Client, jig: Jig, changes: dict[str, str], field: str, says: str
) -> None:
    answer = bench.post(f"/kit/jigs/{jig.pk}/formers/new/", typed(**changes))
    assert answer.status_code == 422
    errors = answer.context["form"].errors
    assert list(errors) == [field], errors
    assert any(part in errors[field][0] for part in says.split("|"))
    assert not Former.objects.exists()
    for value in changes.values():
        if value.strip() and "by" not in changes:
            assert value in answer.content.decode(), "what was typed stays"


def test_a_former_off_the_rail_plane_is_asked_about(bench: Client, jig: Jig) -> None:
    sent = typed(apex="108")
    asked = bench.post(f"/kit/jigs/{jig.pk}/formers/new/", sent)
    (question,) = asked.context["form"].questions
    assert "2.55 mm above the jig's rail plane" in question.words
    assert bench.post(f"/kit/jigs/{jig.pk}/formers/new/", sent | {"sure": question.key}).status_code == 302
    assert "Off the rail plane by 2.55 mm" in bench.get(f"/kit/jigs/{jig.pk}/").content.decode()


def test_one_name_for_one_former_of_a_jig(bench: Client, jig: Jig) -> None:
    make_former(jig, "Ten")
    answer = bench.post(f"/kit/jigs/{jig.pk}/formers/new/", typed(name="TEN"))
    assert answer.status_code == 422
    assert "Add to how many" in answer.context["form"].errors["name"][0]
    with pytest.raises(IntegrityError), transaction.atomic():
        Former.objects.create(jig=jig, name="tEN", radius=300, apex=105)
    make_former(make_jig("Short jig"), "Ten")


@pytest.mark.parametrize(
    "changes",
    [{"radius": 0}, {"apex": -1}, {"chord": 100}, {"chord": 100, "chord_height": 60}, {"width": 0}, {"width": 700}],
)
def test_the_database_refuses_what_cannot_be(jig: Jig, changes: dict[str, int]) -> None:
    former = make_former(jig)
    with pytest.raises(IntegrityError), transaction.atomic():
        Former.objects.filter(pk=former.pk).update(**changes)


def test_two_people_change_a_former(bench: Client, other_bench: Client, jig: Jig) -> None:
    former = make_former(jig)
    address = f"/kit/jigs/{jig.pk}/formers/{former.pk}/"
    assert bench.post(address, typed(place="Door")).status_code == 302
    assert other_bench.post(address, typed(place="Floor")).status_code == 409
    assert Former.objects.get().place == "Door"


def test_a_former_that_stands_on_the_jig_stays(bench: Client, jig: Jig) -> None:
    former = make_former(jig)
    jig.stand(make_hand(), 0, head=former, heel=former, riser_in=True, cutter=None)
    assert bench.post(f"/kit/formers/{former.pk}/remove/", tap()).status_code == 409
    answer = bench.post(f"/kit/jigs/{jig.pk}/formers/{former.pk}/", typed(count="1"))
    assert answer.status_code == 409
    assert "2 of former 10 stand on" in answer.content.decode()
    jig.stand(make_hand(), 1, head=None, heel=None, riser_in=True, cutter=None)
    assert bench.post(f"/kit/formers/{former.pk}/remove/", tap()).status_code == 302
    assert not Former.objects.exists()


def test_the_preview_draws_and_keeps_nothing(bench: Client, jig: Jig) -> None:
    address = f"/kit/jigs/{jig.pk}/formers/preview/"
    page = bench.post(address, {"by": "chord", "chord": "160", "chord_height": "10"}).content.decode()
    assert "325.0 mm" in page
    assert "worked out from the chord" in page
    page = bench.post(address, {"by": "radius", "radius": "323.091", "apex": "105.441", "name": "10"}).content.decode()
    assert "as high as the jig&#x27;s rail plane" in page or "as high as the jig's rail plane" in page
    assert "253.9 mm" in page or "253.8 mm" in page
    assert "too far apart" in bench.post(address, {"by": "radius", "radius": "45", "apex": "100"}).content.decode()
    assert bench.post(address, {}).status_code == 200
    assert not Former.objects.exists()


def test_what_it_cuts_is_what_geometry_says(jig: Jig) -> None:
    """Radius and height by coordinates: the cut circle has the arc's own centre (common to both)."""
    former = make_former(jig, cuts=304.8)
    centre = float(former.apex) - float(former.radius)
    assert former.cuts == pytest.approx(30 + 0.2 + 6.0 - centre)
    assert math.isclose(former.off_plane, 0, abs_tol=1e-6)
