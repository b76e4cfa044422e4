"""The kit of the demo's shop does what its names say."""

import pytest

from boards.demo_kit import FORMERS, THICKNESS, fill_kit
from geometry.former import radius_cut
from shop.models import Cutter, SandingBlock, Shop
from tests.factories import make_hand

pytestmark = pytest.mark.django_db


def test_formers_cut_what_is_written_on_them(shop: Shop) -> None:
    jig = fill_kit(make_hand())
    wanted = {name: float(inches) * 25.4 for name, inches, _, _ in FORMERS}
    assert {former.name for former in jig.formers.all()} == set(wanted)
    for former in jig.formers.all():
        assert radius_cut(jig.as_request(), former.as_request(), THICKNESS) == pytest.approx(
            wanted[former.name], abs=0.02
        )
        assert former.keeps_the_plane
        assert former.count == 2


def test_the_kit_stands_ready(shop: Shop) -> None:
    jig = fill_kit(make_hand())
    kept = Shop.objects.get()
    assert (kept.jig, kept.cutter) == (jig, jig.cutter)
    assert jig.head_former.name == jig.heel_former.name == "12"
    assert Cutter.objects.count() == 2
    assert SandingBlock.objects.count() == 3
