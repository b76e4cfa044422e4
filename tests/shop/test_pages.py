"""What holds for all pages: nobody sees them unasked, they stand on real data, and they cost the same when it grows."""

import re
from collections.abc import Iterator
from decimal import Decimal
from random import Random

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from django.utils import timezone

from boards import demo
from boards.models import Blank
from shop.models import Build, Lengths, Pattern, Shop, User
from shop.rights import RIGHTS, Right
from shop.stages import STAGES
from tests.factories import days_ago, make_blank, make_build, make_hand, make_pattern

pytestmark = pytest.mark.django_db

OPEN_TO_ALL = {name for name, right in RIGHTS.items() if right is Right.OPEN}
# What stands in for the parts of an address; any other is tried with 1.
PARTS = {
    ("shop", "number"): "B001",
    ("boards", "number"): "F0003",
    ("boards", "stage"): "radiusing",
    ("boards", "build"): "B001",
    ("boards", "what"): "head-former",
    ("boards", "kind"): "svg",
    ("boards", "table"): "blanks",
    ("boards", "file"): "nothing.jpg",
    ("boards", "batch"): "6ba7b810-9dad-11d1-80b4-00c04fd430c8",
    ("boards", "secret"): "a-guess",
    ("boards", "figure"): "before",
}


def addresses(patterns: list | None = None, prefix: str = "", space: str = "") -> Iterator[tuple[str, str, str]]:
    """All addresses of ours with their names: the pattern, the name, an address."""
    for entry in get_resolver().url_patterns if patterns is None else patterns:
        if isinstance(entry, URLResolver):
            if entry.app_name != "admin":
                yield from addresses(entry.url_patterns, prefix + str(entry.pattern), entry.namespace or space)
        elif isinstance(entry, URLPattern):
            route = prefix + str(entry.pattern)
            address = re.sub(r"<(?:\w+:)?(\w+)>", lambda part, space=space: PARTS.get((space, part[1]), "1"), route)
            yield route, f"{space}:{entry.name}" if space else entry.name, "/" + address


ALL = list(addresses())


@pytest.fixture
def loaded(bench: Client) -> Client:
    User.objects.all().delete()
    demo.load(now=timezone.now(), random=Random(3))
    client = Client()
    client.force_login(User.objects.get(is_superuser=True))
    return client


def test_the_walk_finds_the_pages() -> None:
    names = {name for _, name, _ in ALL}
    assert {"boards:today", "boards:finish", "shop:builds", "shop:settings", "sign-in"} <= names
    assert len(names) == len(ALL) > 30, "every address has a name of its own"


@pytest.mark.parametrize("address", [address for _, name, address in ALL if name not in OPEN_TO_ALL | {"sign-out"}])
def test_nobody_gets_in_without_signing_in(client: Client, maker: User, address: str) -> None:
    for answer in (client.get(address), client.post(address, {"tap": "x", "seen": "1"})):
        assert answer.status_code == 302, address
        assert answer["Location"].startswith("/sign-in/"), address


def test_the_admin_is_for_owners(client: Client, bench: Client, other_bench: Client) -> None:
    assert client.get("/admin/", follow=True).redirect_chain
    assert bench.get("/admin/").status_code == 403
    assert other_bench.get("/admin/").status_code == 200


def test_every_page_stands_on_the_demo(loaded: Client) -> None:
    """GET on each address: a page, an address to go on to, or a word that a press is wanted."""
    for route, _, address in ALL:
        if address.endswith(".pdf"):
            continue  # printing has tests of its own
        answer = loaded.get(address)
        assert answer.status_code in (200, 302, 404, 405), f"{address} {answer.status_code}"
        if answer.status_code == 404:
            assert re.search("<int:|<uuid:|<str:file>|<slug:secret>", route), address


@pytest.mark.parametrize("lengths", Lengths.values)
def test_every_board_and_build_of_the_demo_has_its_page(loaded: Client, lengths: str) -> None:
    Shop.objects.update(lengths=lengths)
    every = 1 if lengths == Lengths.MM else 4
    numbers = list(Blank.objects.values_list("number", flat=True))[::every]
    pages = [reverse("boards:blank", args=[number]) for number in numbers]
    for number in Build.objects.values_list("number", flat=True):
        pages += [reverse("shop:build", args=[number]), reverse("shop:edit-build", args=[number])]
    pages += [reverse("shop:pattern", args=[pk]) for pk in Pattern.objects.values_list("pk", flat=True)]
    pages += [reverse("boards:bench", args=[stage]) for stage in STAGES]
    for page in [*pages, "/", "/rack/", "/builds/", "/builds/?show=closed", "/kit/"]:
        answer = loaded.get(page)
        assert answer.status_code == 200, page
        words = re.sub(r"<[^>]*>", " ", answer.content.decode())
        assert not re.search(r"\b(nan|NaN|inf|None|Traceback|\{\{|\{%)\b", words), page


def test_every_answer_says_what_the_page_may_load(loaded: Client, client: Client) -> None:
    for answer in (
        loaded.get("/"),
        loaded.get("/nothing/"),
        client.get("/sign-in/"),
        loaded.post("/blanks/F0001/put/"),
    ):
        assert "default-src 'self'" in answer["Content-Security-Policy"]
        assert "unsafe" not in answer["Content-Security-Policy"]


def fill(how_many: int) -> None:
    """A shop with so many of everything that a list shows."""
    hand, place = make_hand(), Build.objects.count()
    for number in range(place, place + how_many):
        radius = Decimal(254 + number % 7)
        changes = {"radius_nut": radius, "radius_heel": radius}
        make_build(f"B{number}-waits", due_on=days_ago(number % 3 - 1), **changes)
        build = make_build(f"B{number}", due_on=days_ago(number % 3 - 1), **changes)
        pattern = make_pattern(f"P{number}", **changes)
        for stage in range(6):
            make_blank(pattern if stage % 2 else build, done=stage, hand=hand)
        held = make_blank(build, hand=hand, done=2)
        held.hold(hand, held.version, "A shake")
        make_blank(hand=hand)


def queries(client: Client, page: str) -> int:
    with CaptureQueriesContext(connection) as captured:
        assert client.get(page).status_code == 200
    return len(captured)


def test_a_list_costs_the_same_at_3_rows_and_at_30(bench: Client) -> None:
    pages = ["/", "/rack/", "/rack/?show=waiting", "/builds/", "/builds/?show=closed", "/benches/", "/kit/"]
    pages += [f"/benches/{stage}/" for stage in STAGES] + ["/benches/radiusing/run/", "/find/?q=B", "/find/?q=F"]
    pages += ["/blanks/F0001/", "/builds/new/", "/builds/B0/"]
    pages += ["/labels/", "/labels/?box=F0001", "/labels/?numbers=F0001 to F0003", "/intake/file/", "/export/"]
    fill(3)
    few = {page: queries(bench, page) for page in pages}
    fill(27)
    many = {page: queries(bench, page) for page in pages}
    assert many == few
    assert few.pop("/") < 45, "it works out the day at each of the five benches"
    assert max(few.values()) < 30
