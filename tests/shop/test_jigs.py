"""Jigs: their measures, what stands on them, the words when a measure is wrong."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from shop.models import Changed, Cutter, Former, Jig, Lengths, Refused, SandingBlock, Shop, User
from tests.factories import make_former, make_hand, make_jig, tap

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(owners_bench: Client) -> Client:
    """The kit is the owner's to change."""
    return owners_bench


@pytest.fixture
def jig(db: None) -> Jig:
    return make_jig()


def typed(jig: Jig, **changes: Any) -> dict[str, Any]:
    """What the form about a jig carries, as it stands."""
    names = ("name", "rule_zero", *Jig.MEASURES, *Jig.HOLES, "remarks")
    values = {name: getattr(jig, name) for name in names}
    return tap(seen=jig.version, **{name: "" if v is None else str(v) for name, v in values.items()} | changes)


def test_measures_are_kept_in_either_unit(bench: Client, jig: Jig) -> None:
    answer = bench.post(f"/kit/jigs/{jig.pk}/change/", typed(jig, span="36 in", riser="1 1/4 in"))
    assert answer.status_code == 302, answer.content.decode()
    jig.refresh_from_db()
    assert (jig.span, jig.riser, jig.version) == (Decimal("914.4"), Decimal("31.75"), 1)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"end_clearance": "450"}, "leaves no bed between"),
        ({"rail_spacing": "12"}, "8 mm into one another"),
        ({"riser": "130"}, "20.2 mm above the rails"),
        ({"span": "0"}, "It cannot be zero"),
        ({"rail_plane": "-3"}, "cannot be less than nothing"),
        ({"riser": "thirty"}, "cannot be read as a length"),
        ({"rule_zero": "901"}, "beyond the other former"),
        ({"hole_spacing": "100"}, "go together"),
        ({"hole_spacing": "5", "hole_diameter": "6", "hole_height": "20"}, "run into one another"),
        ({"span": "20000"}, "must be from 50 mm to"),
        ({"name": ""}, ""),
    ],
)
def test_a_wrong_measure_is_said_beside_it_and_kept_as_typed(
    bench: Client, jig: Jig, changes: dict[str, str], says: str
) -> None:
    answer = bench.post(f"/kit/jigs/{jig.pk}/change/", typed(jig, **changes))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says in page
    name = next(iter(changes))
    assert answer.context["form"][name].errors or any(answer.context["form"][each].errors for each in Jig.HOLES)
    assert f'value="{changes[name]}"' in page or not changes[name]
    assert Jig.objects.get().version == 0


def test_words_are_in_the_shops_unit(bench: Client, jig: Jig, shop: Shop) -> None:
    Shop.objects.update(lengths=Lengths.INCH_FRACTION)
    measures = {name: f"{getattr(jig, name)} mm" for name in ("rule_zero", *Jig.MEASURES)}
    answer = bench.post(f"/kit/jigs/{jig.pk}/change/", typed(jig, **measures) | {"riser": "5 1/8"})
    (words,) = answer.context["form"].errors["riser"]
    assert "would lie 0.803 in above the rails" in words  # 5.125 + 0.2/25.4 - 110/25.4 = 0.8022 in, rounded up
    assert "mm" not in words


def test_something_unusual_is_asked_about_once(bench: Client, jig: Jig) -> None:
    sent = typed(jig, packing="3")
    asked = bench.post(f"/kit/jigs/{jig.pk}/change/", sent)
    assert asked.status_code == 422
    (question,) = asked.context["form"].questions
    answer = bench.post(f"/kit/jigs/{jig.pk}/change/", sent | {"sure": question.key})
    assert answer.status_code == 302
    assert Jig.objects.get().packing == 3


def test_two_people_change_a_jig(bench: Client, other_bench: Client, jig: Jig) -> None:
    first, second = typed(jig, riser="31"), typed(jig, riser="32")
    assert bench.post(f"/kit/jigs/{jig.pk}/change/", first).status_code == 302
    answer = other_bench.post(f"/kit/jigs/{jig.pk}/change/", second)
    assert answer.status_code == 409
    assert "Somebody has changed" in answer.content.decode()
    assert "32" in answer.content.decode(), "what was typed is shown"
    assert Jig.objects.get().riser == 31


def test_one_name_for_one_jig(bench: Client, jig: Jig) -> None:
    other = make_jig("Short jig")
    answer = bench.post(f"/kit/jigs/{other.pk}/change/", typed(other, name="BENCH JIG"))
    assert answer.status_code == 422
    assert "already" in answer.context["form"].errors["name"][0]


@pytest.mark.parametrize(
    "changes",
    [
        {"span": 0},
        {"end_clearance": 450},
        {"rail_spacing": 12},
        {"riser": 120},
        {"packing": -1},
        {"hole_spacing": 100},
        {"hole_spacing": 5, "hole_diameter": 6, "hole_height": 20},
    ],
)
def test_the_database_refuses_what_cannot_be(jig: Jig, changes: dict[str, int]) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Jig.objects.filter(pk=jig.pk).update(**changes)


def test_what_stands_on_the_jig(bench: Client, jig: Jig, shop: Shop, owner: User) -> None:
    ten, sixteen = make_former(jig), make_former(jig, "16", 406.4, count=1)
    cutter = Cutter.objects.create(name="Flat 19 mm", diameter=19, max_depth=2)
    Shop.objects.update(jig=jig)
    sent = tap(seen=jig.version, head=ten.pk, heel=sixteen.pk, riser="out", cutter=cutter.pk)
    assert bench.post(f"/kit/jigs/{jig.pk}/stand/", sent).status_code == 302
    jig.refresh_from_db()
    assert (jig.head_former, jig.heel_former, jig.riser_in, jig.cutter) == (ten, sixteen, False, cutter)
    assert jig.set_by == owner
    assert jig.set_at is not None
    assert Shop.objects.get().cutter == cutter, "boards are worked out with it"
    page = bench.get(f"/kit/jigs/{jig.pk}/").content.decode()
    assert "Head, former 10" in page
    assert "riser out" in page
    again = bench.post(f"/kit/jigs/{jig.pk}/stand/", sent)
    assert again.status_code == 302, "a second delivery of the same press"
    assert Jig.objects.get().version == 1


def test_two_of_one_kind_need_two_pieces(bench: Client, jig: Jig) -> None:
    single = make_former(jig, count=1)
    sent = tap(seen=0, head=single.pk, heel=single.pk, riser="in", cutter="")
    answer = bench.post(f"/kit/jigs/{jig.pk}/stand/", sent)
    assert answer.status_code == 422
    assert "There is one former 10" in answer.content.decode()
    with pytest.raises(Refused, match="there is one, and this needs 2"):
        jig.stand(make_hand(), 0, head=single, heel=single, riser_in=True, cutter=None)


def test_a_former_of_another_jig_cannot_stand_here(bench: Client, jig: Jig) -> None:
    strange = make_former(make_jig("Short jig"))
    sent = tap(seen=0, head=strange.pk, heel="", riser="in", cutter="")
    assert bench.post(f"/kit/jigs/{jig.pk}/stand/", sent).status_code == 422
    with pytest.raises(Refused, match="another jig"):
        jig.stand(make_hand(), 0, head=strange, heel=None, riser_in=True, cutter=None)


def test_a_late_press_is_told_that_the_jig_was_changed(jig: Jig) -> None:
    jig.stand(make_hand(), 0, head=None, heel=None, riser_in=False, cutter=None)
    with pytest.raises(Changed):
        jig.stand(make_hand(), 0, head=None, heel=None, riser_in=True, cutter=None)
    assert Jig.objects.get().riser_in is False


def test_the_jig_in_use(bench: Client, jig: Jig, shop: Shop) -> None:
    cutter = Cutter.objects.create(name="Flat 19 mm", diameter=19, max_depth=2)
    Jig.objects.update(cutter=cutter)
    assert bench.post(f"/kit/jigs/{jig.pk}/use/", tap()).status_code == 302
    kept = Shop.objects.get()
    assert (kept.jig, kept.cutter) == (jig, cutter)


def test_moving_the_rail_plane_moves_every_apex(jig: Jig) -> None:
    formers = [make_former(jig), make_former(jig, "16", 406.4)]
    before = [former.apex for former in formers]
    cuts = [former.cuts for former in formers]
    jig.move_heights(0, Decimal("-1.25"))
    kept = Jig.objects.get()
    assert (kept.rail_plane, kept.version) == (Decimal("108.75"), 1)
    after = [Former.objects.get(pk=former.pk) for former in formers]
    assert [former.apex for former in after] == [apex - Decimal("1.25") for apex in before]
    assert [former.cuts for former in after] == pytest.approx([cut + 1.25 for cut in cuts])
    assert all(former.keeps_the_plane for former in after)


def test_the_rail_plane_does_not_go_below_the_riser(jig: Jig) -> None:
    make_former(jig)
    with pytest.raises(Refused, match="above the rails"):
        jig.move_heights(0, Decimal(-90))
    assert Jig.objects.get().rail_plane == 110


def test_the_pages_cost_the_same_for_many_formers(bench: Client, jig: Jig) -> None:
    for name in ("1", "2", "3"):
        make_former(jig, name)
    costs = {}
    for address in ("/kit/", f"/kit/jigs/{jig.pk}/"):
        bench.get(address)
        with CaptureQueriesContext(
            connection,
        ) as few:
            bench.get(address)
        costs[address] = len(few)
    for number in range(40):
        make_former(jig, f"more {number}")
    for address, cost in costs.items():
        with CaptureQueriesContext(connection) as many:
            assert bench.get(address).status_code == 200
        assert len(many) == cost, address


def test_cutters(bench: Client, shop: Shop) -> None:
    sent = tap(name="Flat 20 mm", diameter="20", max_depth="2.5", minutes_since_sharpening="30", remarks="")
    assert bench.post("/kit/cutters/new/", sent).status_code == 302
    cutter = Cutter.objects.get(name="Flat 20 mm")
    assert cutter.minutes_since_sharpening == 30
    assert bench.post(f"/kit/cutters/{cutter.pk}/sharp/", tap(seen=cutter.version)).status_code == 302
    cutter.refresh_from_db()
    assert cutter.minutes_since_sharpening == 0
    assert cutter.sharpened_on is not None
    wrong = bench.post("/kit/cutters/new/", sent | tap(name="flat 20 MM", diameter="500", sharpened_on="2999-01-01"))
    assert wrong.status_code == 422
    assert set(wrong.context["form"].errors) == {"name", "diameter", "sharpened_on"}
    with pytest.raises(IntegrityError), transaction.atomic():
        Cutter.objects.update(minutes_since_sharpening=-1)


def test_a_small_cutter_is_asked_about(bench: Client, shop: Shop) -> None:
    sent = tap(name="Flat 8 mm", diameter="8", max_depth="2", minutes_since_sharpening="0")
    asked = bench.post("/kit/cutters/new/", sent)
    assert asked.status_code == 422
    (question,) = asked.context["form"].questions
    assert bench.post("/kit/cutters/new/", sent | {"sure": question.key}).status_code == 302


def test_sanding_blocks(bench: Client, shop: Shop) -> None:
    sent = tap(name="Block 12", radius="12 in", length="200", count="1", place="Bench drawer")
    answer = bench.post("/kit/blocks/new/", sent)
    assert answer.status_code == 302, answer.context["form"].errors
    block = SandingBlock.objects.get()
    assert (block.radius, block.length) == (Decimal("304.8"), 200)
    assert bench.post("/kit/blocks/new/", sent | tap(name="Flat", radius="")).status_code == 302
    assert [each.name for each in SandingBlock.objects.all()] == ["Block 12", "Flat"], "flat ones last"
    wrong = bench.post("/kit/blocks/new/", sent | tap(name="block 12", radius="5", length="0"))
    assert set(wrong.context["form"].errors) == {"name", "radius", "length"}
    assert bench.post(f"/kit/blocks/{block.pk}/remove/", tap()).status_code == 302
    assert SandingBlock.objects.count() == 1
    page = bench.get("/kit/").content.decode()
    assert "Flat hollow" in page


def test_habits_hold_jig_feed_and_changeover(bench: Client, jig: Jig, shop: Shop) -> None:
    page = bench.get("/kit/shop/")
    form = page.context["form"]
    sent = tap(**{name: form[name].value() if form[name].value() is not None else "" for name in form.fields})
    sent |= {"seen": shop.version, "jig": jig.pk, "feed_mm_per_min": "2000", "former_minutes": "7"}
    assert bench.post("/kit/shop/", sent).status_code == 302
    kept = Shop.objects.get()
    assert (kept.jig, kept.feed_mm_per_min, kept.former_minutes) == (jig, 2000, 7)
    wrong = bench.post("/kit/shop/", sent | tap(seen=kept.version, feed_mm_per_min="0"))
    assert "feed_mm_per_min" in wrong.context["form"].errors


JUNK = ("", "\0", "-1/0", "99999999999")


@pytest.mark.parametrize("junk", JUNK, ids=range(len(JUNK)))
def test_junk_in_any_box_is_answered_in_words(bench: Client, jig: Jig, junk: str) -> None:
    """Never a failure of the program, whatever comes in one box or in all of them."""
    former = make_former(jig)
    form = {
        f"/kit/jigs/{jig.pk}/change/": typed(jig),
        f"/kit/jigs/{jig.pk}/formers/new/": tap(
            seen="0", name="A", by="chord", radius="300", chord="160", chord_height="10", apex="105", width="150",
            made_on="2026-01-01", place="Wall", remarks="",
        ) | {"count": "1"},
        f"/kit/jigs/{jig.pk}/formers/preview/": {"by": "radius", "radius": "300", "apex": "105", "name": "A"},
        f"/kit/jigs/{jig.pk}/stand/": tap(seen="0", head=former.pk, heel=former.pk, riser="in", cutter=""),
        f"/kit/jigs/{jig.pk}/test/": tap(
            seen="0", go="move", agreed="0.00", head=former.pk, heel=former.pk, length="400", width="100",
            thickness="12", read_to="0.02", head_treble="8", head_centre="12", head_bass="8", heel_treble="8",
            heel_centre="12", heel_bass="8",
        ),
        "/kit/cutters/new/": tap(name="Flat 14 mm", diameter="14", max_depth="2", minutes_since_sharpening="1",
                                 sharpened_on="2026-01-01", remarks=""),
        "/kit/blocks/new/": tap(name="Block 9", radius="230", length="200", place="") | {"count": "1"},
        "/kit/jigs/new/": tap(step="3", go="next", name="N", span="900", end_clearance="60", rule_zero="0",
                              rail_spacing="120", rail_diameter="20", rail_plane="110", riser="30", packing="0.2",
                              edge_tolerance="0.05", former_margin="10", alike="no", **{
                                  f"{end}-{name}": value for end in ("head", "heel") for name, value in
                                  (("name", end), ("by", "radius"), ("radius", "323"), ("apex", "105.4"))}),
    }  # fmt: skip
    for address, sent in form.items():
        for name in sent:
            answer = bench.post(address, sent | {name: junk.encode("utf-8", "surrogatepass")})
            assert answer.status_code in (200, 302, 400, 409, 422), (address, name)
