"""Cutters and sanding blocks, when two tablets change one at the same time."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client

from shop.models import Cutter, SandingBlock, Shop
from shop.tools import ToolForm
from tests.factories import tap

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(owners_bench: Client) -> Client:
    """The kit is the owner's to change."""
    return owners_bench


@pytest.fixture
def cutter(shop: Shop) -> Cutter:
    return Cutter.objects.create(name="Flat 20 mm", diameter=20, max_depth=2, minutes_since_sharpening=30)


@pytest.fixture
def block() -> SandingBlock:
    return SandingBlock.objects.create(name="Block 12", radius=Decimal("304.8"), length=200)


def shown(client: Client, address: str, **changes: object) -> dict[str, object]:
    """What the page sends when it is kept, with some boxes changed."""
    form = client.get(address).context["form"]
    sent = {name: "" if form[name].value() is None else form[name].value() for name in form.fields}
    hidden = {form[name].html_initial_name: sent[name] for name in sent if form.fields[name].show_hidden_initial}
    return tap(seen=form.instance.version, **sent, **hidden) | changes


def test_two_people_at_once_at_a_cutter(bench: Client, other_bench: Client, cutter: Cutter) -> None:
    address = f"/kit/cutters/{cutter.pk}/"
    first, late = shown(bench, address, max_depth="1.5"), shown(other_bench, address, remarks="Chipped at the rim")
    assert bench.post(address, first).status_code == 302
    answer = other_bench.post(address, late)
    assert answer.status_code == 409
    assert "Chipped at the rim" in answer.content.decode()
    cutter.refresh_from_db()
    assert (cutter.max_depth, cutter.remarks) == (Decimal("1.5"), "")


def test_two_people_at_once_at_a_block(bench: Client, other_bench: Client, block: SandingBlock) -> None:
    address = f"/kit/blocks/{block.pk}/"
    first, late = shown(bench, address, count="2"), shown(other_bench, address, place="Long shelf", radius="nonsense")
    assert bench.post(address, first).status_code == 302
    answer = other_bench.post(address, late)
    assert answer.status_code == 409, "who is late is told so first, whatever they typed"
    assert "Long shelf" in answer.content.decode()
    block.refresh_from_db()
    assert (block.count, block.place) == (2, "")


def test_a_form_without_the_version_is_refused(bench: Client, cutter: Cutter, block: SandingBlock) -> None:
    for address in (f"/kit/cutters/{cutter.pk}/", f"/kit/blocks/{block.pk}/", "/kit/shop/"):
        sent = shown(bench, address)
        del sent["seen"]
        assert bench.post(address, sent).status_code == 400
    assert bench.post(f"/kit/cutters/{cutter.pk}/sharp/", tap()).status_code == 400


def test_the_jig_counts_on_while_a_cutter_is_open(bench: Client, cutter: Cutter) -> None:
    address = f"/kit/cutters/{cutter.pk}/"
    open_before = shown(bench, address, remarks="Runs true")
    cutter.wear(2.5)
    assert bench.post(address, open_before).status_code == 302, "minutes are nobody's change"
    cutter.refresh_from_db()
    assert (cutter.minutes_since_sharpening, cutter.remarks) == (Decimal("32.5"), "Runs true")


def test_minutes_that_somebody_typed_are_kept(bench: Client, cutter: Cutter) -> None:
    address = f"/kit/cutters/{cutter.pk}/"
    typed = shown(bench, address, minutes_since_sharpening="12")
    cutter.wear(2.5)
    assert bench.post(address, typed).status_code == 302
    cutter.refresh_from_db()
    assert cutter.minutes_since_sharpening == 12


def test_the_page_says_which_minutes_it_showed(bench: Client, cutter: Cutter) -> None:
    page = bench.get(f"/kit/cutters/{cutter.pk}/").content.decode()
    assert 'name="initial-minutes_since_sharpening" value="30.0"' in page
    wrong = bench.post(f"/kit/cutters/{cutter.pk}/", shown(bench, f"/kit/cutters/{cutter.pk}/", diameter=""))
    assert wrong.status_code == 422
    assert 'name="initial-minutes_since_sharpening" value="30.0"' in wrong.content.decode()


def test_a_change_in_the_admin_is_a_change(bench: Client, other_bench: Client, cutter: Cutter) -> None:
    address = f"/kit/cutters/{cutter.pk}/"
    late = shown(bench, address, remarks="Runs true")
    typed = {"name": cutter.name, "diameter": "20", "max_depth": "1.5", "remarks": "", "sharpened_on": ""}
    assert other_bench.post(f"/admin/shop/cutter/{cutter.pk}/change/", typed).status_code == 302
    cutter.refresh_from_db()
    assert (cutter.max_depth, cutter.minutes_since_sharpening) == (Decimal("1.5"), 30)
    assert bench.post(address, late).status_code == 409


def test_a_late_press_does_not_sharpen_it_again(bench: Client, other_bench: Client, cutter: Cutter) -> None:
    press = f"/kit/cutters/{cutter.pk}/sharp/"
    assert bench.post(press, tap(seen=0)).status_code == 302
    cutter.wear(4)
    assert other_bench.post(press, tap(seen=0)).status_code == 409
    cutter.refresh_from_db()
    assert cutter.minutes_since_sharpening == 4


@pytest.mark.parametrize("kind", ["cutters", "blocks"])
def test_a_name_taken_in_the_same_moment(
    bench: Client, cutter: Cutter, block: SandingBlock, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    """The form has found the name free; before it saves, somebody else has taken it."""
    tool = cutter if kind == "cutters" else block
    sent = shown(bench, f"/kit/{kind}/{tool.pk}/")
    monkeypatch.setattr(ToolForm, "clean_name", lambda self: self.cleaned_data["name"])
    monkeypatch.setattr(type(tool), "validate_unique", lambda self, exclude=None: None)
    answer = bench.post(f"/kit/{kind}/new/", sent | tap())
    assert answer.status_code == 409
    assert f"{tool.name} already" in answer.content.decode()
    assert type(tool).objects.filter(name=tool.name).count() == 1
