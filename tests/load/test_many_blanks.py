"""A long past behind the shop costs no list anything: neither more queries, nor more of the database's work.

What the database does is counted, not timed: SQLite calls back after so many steps of the machine that carries out its
queries, and tells before each query whether it would look at a table from end to end.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from random import Random

import pytest
from django.db import connection, transaction
from django.test import Client
from django.utils import timezone

from boards import rack
from boards.large_shop import Size, fill
from boards.models import Blank, LogEntry
from shop.models import Build, User
from tests.load.measure_lists import MOST, pages_of_lists

pytestmark = [pytest.mark.django_db, pytest.mark.sqlite]

ALIKE = {"in_work": 24, "in_rack": 24, "waiting": 6}
FEW, MANY = Size(blanks=340, entries=2800, **ALIKE), Size(blanks=1500, entries=13000, **ALIKE)
GROW = ("boards_blank", "boards_logentry", "shop_build")
A_STEP = 20  # steps of SQLite's machine between two calls
SLACK = 4000  # steps: of what the log tells 200 entries back at most, the smaller shop may have fewer
# A page of 200 closed builds has more to show after twenty years than after one; it is held against GROW alone.
SHOWS_MORE = "/builds/?show=closed"


@contextmanager
def shop_of(size: Size) -> Iterator[Client]:
    """A shop of that size, gone again afterwards; the same boards are in work and in the rack each time."""
    with transaction.atomic():
        fill(size, now=timezone.now(), random=Random(11))
        client = Client()
        client.force_login(User.objects.get(is_superuser=True))
        yield client
        transaction.set_rollback(True)


def steps(client: Client, page: str) -> int:
    calls = 0

    def one_more() -> int:
        nonlocal calls
        calls += 1
        return 0

    connection.connection.set_progress_handler(one_more, A_STEP)
    try:
        assert client.get(page).status_code == 200, page
    finally:
        connection.connection.set_progress_handler(None, 0)
    return calls * A_STEP


def queries(client: Client, page: str) -> tuple[int, list[str]]:
    """How many queries a page takes, and those of them that look at a whole table.

    A few rows from the end of an index are not a whole table.
    """
    asked, whole = 0, []

    def look(execute: Callable, sql: str, params: object, many: bool, context: dict) -> object:
        nonlocal asked
        asked += 1
        if sql.startswith("SELECT"):
            execute(f"EXPLAIN QUERY PLAN {sql}", params, many, context)
            plan = [row[3] for row in context["cursor"].fetchall()]
            names = "|".join({*GROW, *(alias for _, alias in re.findall(rf'"({"|".join(GROW)})" (U\d+|T\d+)', sql))})
            scans = [line for line in plan if re.match(rf"SCAN ({names})\b", line)]
            in_order = all(" USING " in line for line in scans) and not any("TEMP B-TREE" in line for line in plan)
            if scans and not (in_order and re.search(r"LIMIT \d+\s*$", sql)):
                whole.append(f"{sql} {plan}")
        return execute(sql, params, many, context)

    with connection.execute_wrapper(look):
        assert client.get(page).status_code == 200, page
    return asked, whole


@dataclass
class Cost:
    """What a page costs the database."""

    steps: int
    queries: int
    whole: list[str]


def costs(client: Client) -> dict[str, Cost]:
    found = {}
    for page in pages_of_lists():
        client.get(page)  # whatever is kept after a first time is kept
        found[page] = Cost(steps(client, page), *queries(client, page))
    return found


def test_it_costs_as_much_with_a_long_past_as_with_a_short_one() -> None:
    with shop_of(FEW) as client:
        few = costs(client)
    with shop_of(MANY) as client:
        assert (Blank.objects.count(), LogEntry.objects.count()) == (MANY.blanks, MANY.entries)
        many = costs(client)
    assert {page: cost.whole for page, cost in many.items() if cost.whole} == {}
    assert {page: cost.queries for page, cost in many.items()} == {page: cost.queries for page, cost in few.items()}
    more = {page: (cost.steps, many[page].steps) for page, cost in few.items() if page != SHOWS_MORE}
    assert {page: pair for page, pair in more.items() if pair[1] > MOST * pair[0] + SLACK} == {}


def test_a_query_that_looks_at_everything_would_be_found(bench: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    """The other way round: let a page look for builds by their titles, for which there is no index."""
    assert queries(bench, "/rack/")[1] == []
    monkeypatch.setattr(rack, "waiting_builds", lambda: list(Build.objects.filter(title="Lark")))
    (found,) = queries(bench, "/rack/")[1]
    assert "SCAN shop_build" in found
