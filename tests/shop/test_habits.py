"""The shop's habits: its name, its unit, its allowances and tolerances."""

from decimal import Decimal

import pytest
from django.test import Client

from shop.addresses import advice_for_phones
from shop.models import Cutter, Shop, User
from tests.factories import make_blank, make_build, make_jig, tap

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(owners_bench: Client) -> Client:
    """The kit is the owner's to change."""
    return owners_bench


URL = "/kit/shop/"


def payload(client: Client, **changes: object) -> dict[str, object]:
    """The habits as the page shows them, with some changed."""
    form = client.get(URL).context["form"]
    shown = {name: form[name].value() for name in form.fields}
    typed = {name: "" if value is None else value for name, value in shown.items()}
    return tap(seen=form.instance.version, **typed) | changes


def test_it_works(bench: Client) -> None:
    answer = bench.post(URL, payload(bench, name="Harrow and Bracken", rest_days="40", edge="1/8 in"), follow=True)
    assert answer.redirect_chain == [("/kit/", 302)]
    shop = Shop.current()
    assert (shop.name, shop.rest_days, shop.edge) == ("Harrow and Bracken", 40, Decimal("3.175"))
    assert "Harrow and Bracken" in answer.content.decode()


def test_saving_it_unchanged_changes_nothing(bench: Client) -> None:
    before = Shop.objects.values().get()
    assert bench.post(URL, payload(bench)).status_code == 302
    assert Shop.objects.values().get() == before | {"version": before["version"] + 1}


def test_two_people_at_once(bench: Client, other_bench: Client, shop: Shop) -> None:
    first, late = payload(bench, rest_days="40"), payload(other_bench, rest_days="35", name="Alder & Ash")
    assert bench.post(URL, first).status_code == 302
    answer = other_bench.post(URL, late)
    assert answer.status_code == 409
    assert "Alder &amp; Ash" in answer.content.decode(), "what was typed is shown"
    assert (Shop.current().rest_days, Shop.current().name) == (40, shop.name)


def test_a_cutter_fitted_at_the_jig_stays_though_the_habits_were_open(bench: Client, other_bench: Client) -> None:
    jig = make_jig()
    Shop.objects.update(jig=jig)
    late = payload(other_bench)
    wide = Cutter.objects.create(name="Wide", diameter=25, max_depth=2)
    fitted = tap(seen=jig.version, head="", heel="", riser="in", cutter=wide.pk)
    assert bench.post(f"/kit/jigs/{jig.pk}/stand/", fitted).status_code == 302
    assert other_bench.post(URL, late).status_code == 409
    assert Shop.current().cutter == wide


def test_what_stands_written_down_anew_without_another_cutter_is_no_change_of_habits(bench: Client) -> None:
    jig = make_jig(cutter=Shop.current().cutter)
    Shop.objects.update(jig=jig)
    late = payload(bench)
    same = tap(seen=jig.version, head="", heel="", riser="out", cutter=jig.cutter_id)
    assert bench.post(f"/kit/jigs/{jig.pk}/stand/", same).status_code == 302
    assert bench.post(URL, late).status_code == 302


def test_a_cutter_fitted_by_the_habits_is_a_change_of_the_jig(bench: Client, other_bench: Client) -> None:
    jig = make_jig(cutter=Shop.current().cutter)
    Shop.objects.update(jig=jig)
    wide = Cutter.objects.create(name="Wide", diameter=25, max_depth=2)
    assert bench.post(URL, payload(bench, cutter=wide.pk)).status_code == 302
    late = tap(seen=jig.version, head="", heel="", riser="in", cutter="")
    assert other_bench.post(f"/kit/jigs/{jig.pk}/stand/", late).status_code == 409
    jig.refresh_from_db()
    assert jig.cutter == Shop.current().cutter == wide


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        *[("name", each) for each in ("", "x" * 61, "x" * 10_000)],
        *[("lengths", each) for each in ("", "cubits")],
        *[("paper", each) for each in ("", "foolscap")],
        *[("web_address", each) for each in ("javascript:alert(1)", "nonsense", "http://", "x" * 300)],
        *[("edge", each) for each in ("", "-1", "201", "NaN", "inf", "1e400", "wide")],
        *[("scallop_max", each) for each in ("", "0", "-0.1", "3", "NaN", "0.0001")],
        *[("thickness_tolerance", each) for each in ("", "-0.1", "NaN")],
        *[("rest_days", each) for each in ("", "-1", "3651", "1.5", "1e400")],
        *[("horizon_days", each) for each in ("0", "366", "soon")],
        *[("former_minutes", each) for each in ("", "-1", "601", "1e400", "soon")],
        *[("clamps", each) for each in ("", "0", "101", "NaN")],
        *[("cutter", each) for each in ("0", "x", "9" * 30)],
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(bench: Client, field: str, typed: str) -> None:
    before = Shop.objects.values().get()
    answer = bench.post(URL, payload(bench, **{field: typed}))
    assert answer.status_code == 422
    form = answer.context["form"]
    assert set(form.errors) == {field}
    assert form[field].value() == typed
    assert Shop.objects.values().get() == before


def test_a_new_spec_starts_from_them_and_a_kept_one_stays(bench: Client, shop: Shop) -> None:
    build = make_build()
    bench.post(URL, payload(bench, web_min="2", edge="4"))
    form = bench.get("/builds/new/").context["form"]
    assert (Decimal(form["web_min"].value()), Decimal(form["edge"].value())) == (2, 4)
    build.refresh_from_db()
    assert build.web_min == Decimal("1.5")


def test_the_page_works_without_a_cutter(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=2)
    assert bench.post(URL, payload(bench, cutter="")).status_code == 302
    assert Shop.current().cutter is None
    for page in ("/kit/", "/benches/radiusing/", f"/blanks/{blank.number}/", "/builds/B901/"):
        assert bench.get(page).status_code == 200


@pytest.mark.parametrize(
    ("field", "typed"), [("diameter", "300"), ("diameter", "0"), ("max_depth", "0.01"), ("max_depth", "60")]
)
def test_a_cutter_that_geometry_would_not_take_is_refused(other_bench: Client, field: str, typed: str) -> None:
    before = Cutter.objects.count()
    good = {"name": "Odd", "diameter": "16", "max_depth": "3", "minutes_since_sharpening": "0"}
    answer = other_bench.post("/admin/shop/cutter/add/", {**good, field: typed})
    assert answer.status_code == 200
    assert set(answer.context["adminform"].form.errors) == {field}
    assert Cutter.objects.count() == before
    assert other_bench.post("/admin/shop/cutter/add/", good).status_code == 302


# Addresses that only this machine knows: RFC 6761, 6.3 (localhost), RFC 1122, 3.2.1.3 (127/8), RFC 4291, 2.5.3 (::1).
@pytest.mark.parametrize(
    "host", ["localhost:8000", "board.localhost:8000", "127.0.0.1:8000", "127.8.9.1:8000", "[::1]:8000"]
)
def test_an_address_of_this_machine_alone_is_no_use_to_a_phone(host: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shop.addresses.lan_addresses", lambda: ["192.168.1.20", "10.0.0.7"])
    name = host.removesuffix(":8000").strip("[]")
    assert advice_for_phones(f"http://{host}/blanks/F0001/") == (
        f"No phone can open {name}. Serve with --host 0.0.0.0 and set http://192.168.1.20:8000 "
        "as the address on sheets."
    )


@pytest.mark.parametrize("address", ["http://192.168.1.20:8000", "https://boards.example", "http://[fe80::1]/", ""])
def test_an_address_of_the_network_will_do(address: str) -> None:
    assert advice_for_phones(address) == ""


def test_the_page_says_so_where_it_is_open_at_such_an_address(bench: Client, shop: Shop) -> None:
    assert "No phone can open localhost" in bench.get(URL, headers={"host": "localhost:8000"}).content.decode()
    assert "No phone" not in bench.get(URL).content.decode()
    shop.web_address = "http://192.168.1.20:8000"
    shop.save()
    assert "No phone" not in bench.get(URL, headers={"host": "localhost:8000"}).content.decode()
