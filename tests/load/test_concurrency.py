"""Eight people at work at once, on real servers: whatever was acknowledged is in the log, once, and nothing breaks.

On SQLite one process serves, on PostgreSQL two do, and each client goes to the one and the other in turn.
"""

from __future__ import annotations

import http.client
import json
import os
import re
import signal
import subprocess
import sys
import threading
import uuid
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from pathlib import Path
from random import Random
from urllib.parse import urlencode

import pytest
from django.conf import settings

from tests.postgres import a_database
from tests.shop.test_serve import Server

# An ordinary run takes a part, so that it stays short; CAMBERBOOK_TESTS_ACTIONS=2000 takes as many in all.
CLIENTS = 8
EACH = int(os.environ.get("CAMBERBOOK_TESTS_ACTIONS", "400")) // CLIENTS
POOL = 40  # few enough to get into each other's way

SHOP = f"""
import json
from django.core.management import call_command
from django.test import Client
call_command("migrate", verbosity=0)
from boards.models import Bench
from tests.factories import days_ago, good_readings, make_blanks, make_build, make_hand, make_user
from shop.models import Shop, User
Shop.current()
owner = make_user("owner", role="owner")
people = [owner, *(make_user(f"maker-{{n}}") for n in range(1, {CLIENTS}))]
hand, build = make_hand(owner), make_build()
pool, waiting = make_blanks({POOL}, hand=hand), make_blanks(3, hand=hand)
for blank in waiting:
    blank.put_to(hand, blank.version, build)
readings = good_readings(waiting[0])
for blank in waiting:
    blank.finish(hand, blank.version, "thicknessing", readings)
sessions = []
for person in people:
    client = Client()
    client.force_login(person)
    sessions.append(client.cookies["sessionid"].value)
print(json.dumps({{
    "sessions": sessions, "build": build.pk, "pool": [blank.number for blank in pool],
    "wood": pool[0].species_id, "readings": {{name: str(value) for name, value in readings.items()}},
}}))
"""
LOOK = """
import json
from collections import Counter
from boards.models import Bench, LogEntry
from shop.models import Shop, Tap
entries = Counter(str(tap) for tap in LogEntry.objects.exclude(request_id=None).values_list("request_id", flat=True))
print(json.dumps({
    "entries": entries, "taps": [str(tap) for tap in Tap.objects.values_list("pk", flat=True)],
    "bench": Bench.at("slotting").version, "shop": Shop.objects.get().version,
    "spoiled": Shop.objects.get().spoiled_in_hundred,
}))
"""
TOKEN = "t" * 32  # a cookie and a header that say the same are what the check of forms asks for


class Fields(HTMLParser):
    """What a browser would send with the longest form of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.forms: list[dict[str, str]] = [{}]
        self.select, self.area = "", ""
        self.feed(page)

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        has = dict(attributes)
        name, value = has.get("name") or "", has.get("value") or ""
        if tag == "form":
            self.forms.append({})
        elif tag == "input" and name and (has.get("type") not in ("radio", "checkbox") or "checked" in has):
            self.forms[-1][name] = value
        elif tag == "select":
            self.select = name
        elif tag == "option" and "selected" in has:
            self.forms[-1][self.select] = value

    @property
    def longest(self) -> dict[str, str]:
        return max(self.forms, key=len)


class Machines:
    """The shop's data, and the processes that serve it."""

    def __init__(self, folder: Path, processes: int, **environment: str) -> None:
        self.folder, self.more = folder, environment
        self.start = json.loads(self.manage("shell", "--no-imports", "-c", SHOP).splitlines()[-1])
        self.servers = [Server(folder, **environment) for _ in range(processes)]
        for server in self.servers:
            server.wait_for("Ctrl-C stops it.")

    def manage(self, *command: str) -> str:
        done = subprocess.run(
            [sys.executable, settings.CHECKOUT / "manage.py", *command],
            env=Server.environment(self.folder) | self.more,
            cwd=settings.CHECKOUT,
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stdout + done.stderr
        return done.stdout

    def look(self) -> dict:
        return json.loads(self.manage("shell", "--no-imports", "-c", LOOK).splitlines()[-1])

    def stop(self) -> str:
        """Stop the servers, and give what they said."""
        for server in self.servers:
            if server.process.poll() is None:
                server.stop(signal.SIGTERM)
        return "\n".join(line for server in self.servers for line in (*server.said, *server.lines.queue))


@dataclass(frozen=True)
class Known:
    """A blank as the last answer had it."""

    version: int = 1
    put: bool = False
    cut: bool = False
    held: bool = False
    before: Known | None = None  # where taking the last thing back leads to


@dataclass
class World:
    """What all clients have been told, as pages that stand open would show it."""

    blanks: dict[str, Known]
    bench: int
    habits: dict[str, str]
    shop: int
    run: str
    lock: threading.Lock = field(default_factory=threading.Lock)

    def learn(self, number: str, now: Known) -> None:
        with self.lock:
            if now.version > self.blanks[number].version:
                self.blanks[number] = now


class Person(threading.Thread):
    """Somebody at a tablet, who presses what makes sense by what they last saw."""

    def __init__(self, machines: Machines, place: int, world: World) -> None:
        super().__init__(daemon=True)
        self.machines, self.world, self.place = machines, world, place
        self.random = Random(100 + place)
        self.headers = {
            "Cookie": f"sessionid={machines.start['sessions'][place]}; csrftoken={TOKEN}",
            "X-CSRFToken": TOKEN,
            "Content-Type": "application/x-www-form-urlencoded",
        }
        self.lines = [
            http.client.HTTPConnection("127.0.0.1", s.port, timeout=120) for s in machines.servers for _ in "12"
        ]
        self.done: dict[str, tuple[str, int]] = {}  # by tap: what, and how many entries it makes in the logs of blanks
        self.refused: dict[str, str] = {}
        self.answers: Counter[tuple[str, int]] = Counter()
        self.trouble: list[str] = []
        self.spoiled = None  # percent, as kept last

    def run(self) -> None:
        try:
            if self.place % 2:  # half of them press through the outbox's script, half on pages without one
                who = json.loads(self.get("/outbox/"))["who"]
                self.headers |= {"Outbox": "now", "Outbox-By": who}
            for step in range(EACH):
                self.press(step, *self.choose())
        except Exception as error:
            self.trouble.append(f"{type(error).__name__}: {error}")

    def get(self, path: str) -> str:
        self.lines[0].request("GET", path, headers=self.headers)
        answer = self.lines[0].getresponse()
        page = answer.read().decode()
        assert answer.status == 200, (path, answer.status)
        return page

    def choose(self) -> tuple[str, str, dict[str, object], str, Known | None]:
        """Choose a kind, an address, what is typed, which blank it is about and how that stands afterwards."""
        what = self.random.choices(
            ("receive", "put", "finish", "hold", "release", "undo", "rework", "plan", "stand", "settings"),
            (12, 16, 16, 14, 14, 14, 8, 4, 4, 0 if self.place else 20),
        )[0]
        world = self.world
        if what == "receive":
            return what, "/intake/", self.box(), "", None
        if what == "plan":
            return what, "/benches/slotting/plan/", {"seen": world.bench}, "", None
        if what == "stand":
            return what, "/benches/slotting/stand/", {"seen": world.bench, "run": world.run}, "", None
        if what == "settings":
            percent = self.random.randrange(1, 40)
            return what, "/kit/shop/", {**world.habits, "spoiled_in_hundred": percent, "seen": world.shop}, "", None
        can = {
            "put": lambda now: not now.put,
            "finish": lambda now: now.put and not now.cut and not now.held,
            "hold": lambda now: not now.held,
            "release": lambda now: now.held,
            "undo": lambda now: now.before is not None,
            "rework": lambda now: now.cut,
        }[what]
        chosen = [(number, now) for number, now in world.blanks.items() if can(now)]
        if not chosen:
            return "receive", "/intake/", self.box(), "", None
        number, now = self.random.choice(chosen)
        after = replace(now, version=now.version + 1, before=now)
        typed: dict[str, object] = {"seen": now.version}
        verb = what
        match what:
            case "put":
                typed["spec"], after = f"build:{self.machines.start['build']}", replace(after, put=True)
            case "finish":
                verb = "finish/thicknessing"
                typed |= self.machines.start["readings"]
                after = replace(after, cut=True)
            case "hold":
                typed["hold-reason"], after = "A shake – “look at it”", replace(after, held=True)
            case "release":
                after = replace(after, held=False)
            case "rework":
                typed |= {"rework-stage": "thicknessing", "rework-reason": "Too thick"}
                after = replace(after, cut=False, held=False)
            case "undo":
                verb = f"undo/{now.version}"
                after = replace(now.before, version=now.version + 1, before=None)
        return what, f"/blanks/{number}/{verb}/", typed, number, after

    def box(self) -> dict[str, object]:
        size = {"length": "530", "width": "75", "thickness": "9", "received_on": "2024-05-02"}
        return {
            **size,
            "species": self.machines.start["wood"],
            "cut": "quarter",
            "how_many": self.random.randrange(1, 4),
        }

    def press(
        self, step: int, what: str, path: str, typed: dict[str, object], number: str, after: Known | None
    ) -> None:
        tap = str(uuid.UUID(int=self.random.getrandbits(128), version=4))
        body = urlencode({**typed, "tap": tap})
        twice = self.random.random() < 0.08  # two deliveries at once, of which one counts
        status, outcomes, location = 503, [], ""
        while status == 503:  # nothing was kept, and it is to be sent again
            lines = [self.lines[(step + extra) % len(self.lines)] for extra in range(1 + twice)]
            for line in lines:
                line.request("POST", path, body, self.headers)
            for line in lines:
                answer = line.getresponse()
                page = answer.read().decode()
                self.answers[what, answer.status] += 1
                if answer.status not in (302, 204, 409, 422, 503):
                    self.trouble.append(f"{what} {path} {answer.status}: {page[:2000]}")
                led_to = answer.headers["Location"] or answer.headers["Tap-Next"] or ""
                if answer.status != 503 and (status == 503 or led_to):
                    status, location = answer.status, led_to
                outcomes.append(answer.headers["Tap-Outcome"])
        if not location:
            self.refused[tap] = what
            self.look_again(what)
            return
        if outcomes.count("done") > 1:
            self.trouble.append(f"{what} was done twice: {outcomes}")
        self.done[tap] = (what, {"receive": typed.get("how_many"), "plan": 0, "stand": 0, "settings": 0}.get(what, 1))
        if after is not None:
            self.world.learn(number, after)
        elif what == "settings":
            self.world.shop += 1
            self.spoiled = typed["spoiled_in_hundred"]
        elif what in ("plan", "stand"):
            self.world.bench = max(self.world.bench, int(typed["seen"]) + 1)
        elif "first=" not in location:
            self.trouble.append(f"{what} led to {location}")

    def look_again(self, what: str) -> None:
        """Open the page anew, as one does who was too late."""
        if what in ("plan", "stand"):
            self.world.bench = version_of_bench(self.get("/benches/slotting/"))


def version_of_bench(page: str) -> int:
    """Read it where the form stands that plans the day; forms about a board have the board's."""
    return int(re.search(r'action="/benches/slotting/plan/".*?name="seen" value="(\d+)"', page, re.DOTALL)[1])


def work(machines: Machines) -> None:
    page = Person(machines, 0, World({}, 0, {}, 0, ""))
    habits = {name: value for name, value in Fields(page.get("/kit/shop/")).longest.items() if name != "tap"}
    bench = page.get("/benches/slotting/")
    world = World(
        dict.fromkeys(machines.start["pool"], Known()),
        version_of_bench(bench),
        habits,
        int(habits.pop("seen")),
        re.search(r'name="run" value="([^"]+)"', bench)[1],
    )
    before = machines.look()
    people = [Person(machines, place, world) for place in range(CLIENTS)]
    for person in people:
        person.start()
    for person in people:
        person.join()
    said = machines.stop()
    now = machines.look()

    answers = sum((person.answers for person in people), Counter())
    assert [trouble for person in people for trouble in person.trouble] == [], answers
    assert "Traceback" not in said, said[-3000:]
    done = {tap: kept for person in people for tap, kept in person.done.items()}
    refused = {tap: what for person in people for tap, what in person.refused.items()}
    assert len(done) + len(refused) == CLIENTS * EACH
    # Every press that was acknowledged is there as often as it should be, and none that was refused.
    assert {tap: now["entries"].get(tap, 0) for tap in done} == {tap: entries for tap, (_, entries) in done.items()}
    assert set(done) == set(now["taps"]) - set(before["taps"])
    kinds = Counter(what for what, _ in done.values())
    assert now["shop"] - before["shop"] == kinds["settings"] and now["spoiled"] == people[0].spoiled
    assert now["bench"] - before["bench"] == kinds["plan"] + kinds["stand"]
    # It was what it says: all kinds went through, and people did get into each other's way.
    assert len(kinds) == 10 and min(kinds.values()) >= max(1, EACH // 50), kinds
    conflicts = sum(n for (_, status), n in answers.items() if status == 409)
    assert len(done) >= CLIENTS * EACH // 2 and conflicts >= CLIENTS * EACH // 100, answers
    assert "stand where their logs say" in machines.manage("check_log")


@pytest.fixture
def machines(tmp_path: Path) -> Iterator:
    running: list[Machines] = []

    def start(processes: int, **environment: str) -> Machines:
        running.append(Machines(tmp_path, processes, **environment))
        return running[-1]

    yield start
    for each in running:
        each.stop()


@pytest.mark.sqlite
def test_eight_people_on_sqlite(machines) -> None:
    work(machines(1))


@pytest.mark.sqlite
def test_eight_people_on_postgresql_behind_two_processes(machines) -> None:
    with a_database() as url:
        work(machines(2, DATABASE_URL=url))


@pytest.mark.sqlite
def test_it_is_the_same_whichever_process_answers(machines) -> None:
    """Nothing is kept in a process: what one has written the other shows, and knows again what is sent twice."""
    with a_database() as url:
        both = machines(2, DATABASE_URL=url)
        person = Person(both, 0, World({}, 0, {}, 0, ""))
        lines = [person.lines[0], person.lines[-1]]
        assert {line.port for line in lines} == {server.port for server in both.servers}

        def ask(way: int, path: str, typed: dict[str, object] | None = None) -> tuple[http.client.HTTPResponse, str]:
            lines[way].request("GET" if typed is None else "POST", path, typed and urlencode(typed), person.headers)
            answer = lines[way].getresponse()
            return answer, answer.read().decode()

        number = both.start["pool"][0]
        for turn in range(6):
            way, other = turn % 2, 1 - turn % 2
            habits = Fields(ask(other, "/kit/shop/")[1]).longest
            name = f"Shop {turn}"
            habits["name"] = name
            assert ask(way, "/kit/shop/", habits)[0].headers["Tap-Outcome"] == "done"
            assert ask(other, "/kit/shop/", habits)[0].headers["Tap-Outcome"] == "done-before"
            assert Fields(ask(other, "/kit/shop/")[1]).longest["name"] == name
            assert name in ask(other, "/")[1]

            press = {"seen": turn + 1, "tap": str(uuid.UUID(int=turn, version=4))}
            verb, press["hold-reason"] = ("release", "hold")[turn % 2 == 0], name
            assert ask(way, f"/blanks/{number}/{verb}/", press)[0].headers["Tap-Outcome"] == "done"
            late, page = ask(other, f"/blanks/{number}/{verb}/", {**press, "tap": str(uuid.uuid4())})
            assert late.status == 409 and "has changed" in page, "the other process has seen it"
            assert ask(other, f"/blanks/{number}/{verb}/", press)[0].headers["Tap-Outcome"] == "done-before"
        assert "stand where their logs say" in both.manage("check_log")
