"""A shop from the program's first release, with work in it, is brought up to date and works."""

from __future__ import annotations

import json
from pathlib import Path

from tests.shop.machine import manage

# Through the models as the first migrations have them. Values are those of an invented shop.
THEN = """
import uuid
from datetime import date, datetime, timezone
from decimal import Decimal
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

# What the first release had: its own first migrations, and all that those rest on.
FIRST = [("shop", "0002_starting_values"), ("boards", "0001_initial")]
executor = MigrationExecutor(connection)
executor.migrate([*FIRST, ("admin", "0001_initial"), ("sessions", "0001_initial")])
assert "gauged" not in [column.name for column in connection.introspection.get_table_description(
    connection.cursor(), "boards_logentry")]
apps = executor.loader.project_state(FIRST).apps
User, Wire, Route, Species, Build, Pattern, Shop, Cutter = (
    apps.get_model("shop", name)
    for name in ("User", "FretWire", "Route", "Species", "Build", "Pattern", "Shop", "Cutter")
)
Blank, LogEntry = (apps.get_model("boards", name) for name in ("Blank", "LogEntry"))

owner = User.objects.create(
    username="hollis", password="!", first_name="Hollis", is_superuser=True, is_staff=True, is_active=True
)
maker = User.objects.create(username="ferren", password="!", first_name="Ferren", is_active=True)
wire = Wire.objects.first() or Wire.objects.create(name="Tang 1.5", tang=Decimal("1.5"), kerf=Decimal("0.55"))
stages = ["thicknessing", "slotting", "radiusing", "tapering", "gluing"]
route = Route.objects.create(name="As it was", stages=stages)
wood = Species.objects.first()
spec = dict(
    scale=Decimal(648), frets=22, nut_width=Decimal(43), heel_width=Decimal(57), thickness=Decimal(6),
    radius_nut=Decimal("304.8"), radius_heel=Decimal("304.8"), wire=wire, route=route,
)
pattern = Pattern.objects.create(name="Wren", **spec)
build = Build.objects.create(number="B001", title="Wren, six strings", customer="Tamsin Orrell", **spec)
closed = Build.objects.create(number="B002", title="Wren, sold", closed_on=date(2026, 2, 2), **spec)
at = datetime(2026, 1, 12, 9, tzinfo=timezone.utc)

def blank(number, entries, *, done=0, condition="active", build=None, pattern=None):
    way = stages if build or pattern else []
    made = Blank.objects.create(
        number=number, species=wood, length=Decimal(530), width=Decimal(70), thickness=Decimal("8.5"),
        received_on=date(2025, 9, 1), cost=Decimal("18.50"), version=len(entries), build=build, pattern=pattern,
        stages=way, done=way[:done], next_stage=way[done] if way and done < len(way) else "", condition=condition,
        changed_at=at, changed_by=maker,
    )
    rows = []
    for place, entry in enumerate(entries, start=1):
        if "undoes" in entry:
            entry = {**entry, "undoes": rows[entry["undoes"] - 1]}
        rows.append(LogEntry.objects.create(
            blank=made, number=place, at=at, by=maker, request_id=uuid.uuid4(), device="a tablet", **entry
        ))

came, held = {"kind": "received"}, {"kind": "held", "reason": "A shake at the heel"}
put = {"kind": "assigned", "build": build, "stages": stages, "to_stage": stages[0]}
by_pattern = {"kind": "assigned", "pattern": pattern, "stages": stages, "to_stage": stages[0]}
def finished(place):
    then = stages[place + 1] if place < 4 else ""
    return {"kind": "finished", "stage": stages[place], "from_stage": stages[place], "to_stage": then,
            "readings": {"thickness": "6.1"} if place == 0 else {}}
blank("F0001", [came])
blank("F0002", [came, put, finished(0), finished(1)], done=2, build=build)
blank("F0003", [came, put, finished(0), held], done=1, condition="held", build=build)
blank("F0004", [came, {"kind": "scrapped", "reason": "Split"}], condition="scrapped")
blank("F0005", [came, by_pattern, *map(finished, range(5))], done=5, pattern=pattern)
blank("F0006", [came, put, finished(0), {"kind": "undone", "undoes": 3, "to_stage": stages[0]}], done=0, build=build)
blank("F0007", [came, put, {"kind": "freed"}])
Shop.objects.update_or_create(pk=1, defaults={"name": "The Larch Loft"})
"""

NOW = """
import json
from django.test import Client
from boards.models import Blank, LogEntry
from shop.models import Build, Shop, User
client = Client(SERVER_NAME="localhost")
client.force_login(User.objects.get(username="hollis"))
pages = ["/", "/benches/", "/rack/", "/builds/", "/kit/", "/kit/backups/", "/builds/B001/"]
pages += ["/benches/slotting/", "/benches/radiusing/"]
pages += [f"/blanks/{number}/" for number in Blank.objects.values_list("number", flat=True)]
answers = {page: client.get(page).status_code for page in pages}
blank = Blank.objects.get(number="F0001")
from tests.factories import make_hand
blank.put_to(make_hand(User.objects.get(username="ferren")), blank.version, Build.objects.get(number="B001"))
print(json.dumps({
    "answers": answers, "name": Shop.current().name, "people": sorted(User.objects.values_list("username", flat=True)),
    "owner": User.objects.get(username="hollis").is_superuser,
    "stands": {blank.number: [blank.next_stage, blank.condition, len(blank.done)] for blank in Blank.objects.all()},
    "readings": LogEntry.objects.filter(kind="finished", blank__number="F0002").order_by("number").first().readings,
    "closed": str(Build.objects.get(number="B002").closed_on),
}))
"""


def test_a_shop_from_the_first_release(tmp_path: Path) -> None:
    manage(tmp_path, "shell", "-v0", "-c", THEN)
    manage(tmp_path, "migrate", "-v0")
    assert "7 blanks stand where their logs say." in manage(tmp_path, "check_log")
    said = json.loads(manage(tmp_path, "shell", "-v0", "-c", NOW, CAMBERBOOK_DEBUG="yes").splitlines()[-1])
    assert {page: status for page, status in said["answers"].items() if status != 200} == {}
    assert len(said["answers"]) == 16
    assert said["name"] == "The Larch Loft"
    assert (said["people"], said["owner"], said["closed"]) == (["ferren", "hollis"], True, "2026-02-02")
    assert said["stands"] == {
        "F0001": ["thicknessing", "active", 0],  # put to the build just now
        "F0002": ["radiusing", "active", 2],
        "F0003": ["slotting", "held", 1],
        "F0004": ["", "scrapped", 0],
        "F0005": ["", "active", 5],
        "F0006": ["thicknessing", "active", 0],
        "F0007": ["", "active", 0],
    }
    assert said["readings"] == {"thickness": "6.1"}
    assert "7 blanks stand where their logs say." in manage(tmp_path, "check_log")
