"""The shop with a long past is a whole shop, and is made in an empty one only."""

from __future__ import annotations

from io import StringIO
from random import Random

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.utils import timezone

from boards.large_shop import NoRoom, Size, fill
from boards.models import Blank, Kind, LogEntry
from shop.models import Build, Species, User
from tests.factories import make_user

pytestmark = pytest.mark.django_db

SMALL = {"blanks": 150, "entries": 1500, "in_work": 24, "in_rack": 20, "waiting": 5}


@pytest.fixture(autouse=True)
def demo(settings) -> None:
    settings.DEMO = True


def make(**changes: int) -> str:
    out = StringIO()
    call_command("make_large_shop", stdout=out, **{**SMALL, **changes})
    return out.getvalue()


def test_it_works() -> None:
    assert make() == "150 blanks with 1500 log entries.\n"
    assert (Blank.objects.count(), LogEntry.objects.count()) == (150, 1500)
    call_command("check_log", stdout=StringIO())
    kinds = set(LogEntry.objects.values_list("kind", flat=True))
    assert kinds >= {Kind.UNDONE, Kind.REWORKED, Kind.HELD, Kind.MEASURED, Kind.SCRAPPED}
    assert Build.objects.exclude(closed_on=None).count() >= 10
    assert Blank.objects.in_rack().count() >= 20
    assert not LogEntry.objects.filter(at__gt=timezone.now()).exists()


def test_its_boards_can_be_worked_on(client) -> None:
    make()
    client.force_login(User.objects.get(is_superuser=True))
    for blank in Blank.objects.order_by("-pk")[:40:4]:
        assert client.get(f"/blanks/{blank.number}/").status_code == 200


def test_the_same_number_makes_the_same_shop() -> None:
    now = timezone.now()

    def made() -> list[tuple]:
        fill(Size(**SMALL), now=now, random=Random(5))
        return list(LogEntry.objects.order_by("pk").values_list("blank__number", "number", "at", "kind", "readings"))

    found = []
    for _ in range(2):
        with transaction.atomic():
            found.append(made())
            transaction.set_rollback(True)
    assert found[0] == found[1] and len(found[0]) == 1500


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"blanks": 60}, "leave no room in 60 blanks"),
        ({"entries": 300}, "have .* entries at least"),
        ({"in_rack": -1}, "--in-rack cannot be negative"),
        ({"blanks": 0}, "leave no room"),
    ],
)
def test_numbers_that_do_not_go_together(changes: dict[str, int], words: str) -> None:
    with pytest.raises(CommandError, match=words):
        make(**changes)
    assert not Blank.objects.exists() and not User.objects.exists(), "nothing is left half made"


def test_only_in_an_empty_shop(settings) -> None:
    make_user()
    with pytest.raises(CommandError, match="There is a shop in"):
        make()
    settings.DEMO = False
    with pytest.raises(CommandError, match="CAMBERBOOK_DEMO=yes"):
        make()
    assert not Blank.objects.exists()


def test_without_boards_that_are_done_with_there_is_no_longer_log() -> None:
    there = 40 + 3 + 24 + 20
    with pytest.raises(NoRoom, match="there are none"):
        fill(Size(there, 1500, 24, 20, 0), now=timezone.now(), random=Random(1))
    assert Species.objects.exists()
