"""200 presses while the shop's machine is killed and started again, and again: every one is in the log exactly once."""

from __future__ import annotations

import json
import signal
import socket
import sqlite3
import subprocess
import sys
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings
from playwright.sync_api import Browser, Error, Page

from tests.shop.test_serve import SECONDS, Server

FINISHED, HELD = 80, 60  # and the held ones are let go on again: 200

# The shop's data, made in a process of its own: the tests' database is another one.
SHOP = f"""
import json
from django.core.management import call_command
from django.test import Client
call_command("migrate", verbosity=0)
from tests.factories import good_readings, make_blanks, make_build, make_hand, make_user
user = make_user("maker")
hand, build = make_hand(user), make_build()
blanks = make_blanks({FINISHED + HELD}, hand=hand)
for blank in blanks:
    blank.put_to(hand, blank.version, build)
client = Client()
client.force_login(user)
readings = {{name: str(value) for name, value in good_readings(blanks[0]).items()}}
print(json.dumps([client.cookies["sessionid"].value, [blank.number for blank in blanks], readings, blanks[0].version]))
"""

# A page that costs little, with a form put into it as the pages of the shop have them.
QUIET = "/find/?q=nothing"
PRESS = """([action, fields]) => {
    const form = document.createElement("form");
    form.method = "post";
    form.setAttribute("action", action);
    const token = document.querySelector("header [name=csrfmiddlewaretoken]").value;
    for (const [name, value] of [...Object.entries(fields), ["csrfmiddlewaretoken", token]]) {
        form.append(Object.assign(document.createElement("input"), {type: "hidden", name, value}));
    }
    const button = document.createElement("button");
    button.textContent = "Press";
    form.append(button);
    document.getElementById("main").append(form);
    window.pressed = fields.tap;
    form.requestSubmit(button);
}"""
ANSWERED = """tap => window.camberbook && document.readyState === "complete"
    && (window.pressed !== tap || document.querySelector(`form[data-waiting="${tap}"]`) !== null)"""


class Shop:
    """The shop's machine: it can be killed like a machine whose plug is pulled, and started again."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.kills = folder, 0
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        made = self.manage("shell", "-c", SHOP)
        self.session, self.numbers, self.readings, self.version = json.loads(made.splitlines()[-1])
        self.start()

    def manage(self, *arguments: str) -> str:
        environment = Server.environment(self.folder)
        command = [sys.executable, str(settings.CHECKOUT / "manage.py"), *arguments]
        done = subprocess.run(
            command, env=environment, cwd=settings.CHECKOUT, capture_output=True, text=True, timeout=4 * SECONDS
        )
        assert done.returncode == 0, done.stderr
        return done.stdout

    def start(self) -> None:
        self.server = Server(self.folder, "--port", str(self.port))
        self.server.wait_for("Ctrl-C stops it.")

    def kill(self) -> None:
        self.server.stop(signal.SIGKILL)
        self.kills += 1


@pytest.fixture
def machine(tmp_path: Path) -> Iterator[Shop]:
    shop = Shop(tmp_path)
    yield shop
    if shop.server.process.poll() is None:
        shop.server.process.kill()
        shop.server.process.wait()


class Tablet:
    """A browser at the bench, and what was pressed on it."""

    def __init__(self, browser: Browser, shop: Shop) -> None:
        self.shop = shop
        self.taps: list[str] = []
        self.queued = 0
        context = browser.new_context(base_url=f"http://127.0.0.1:{shop.port}")
        context.add_cookies([{"name": "sessionid", "value": shop.session, "url": f"http://127.0.0.1:{shop.port}"}])
        self.page: Page = context.new_page()
        self.page.goto(QUIET)

    def press(self, action: str, seen: int, *, killed: bool = False, **typed: str) -> None:
        self.taps.append(str(uuid.uuid4()))
        fields = {"tap": self.taps[-1], "seen": str(seen), "then": QUIET, **typed}
        self.page.evaluate(PRESS, [action, fields])
        if killed:
            self.shop.kill()
        for _ in range(SECONDS * 10):
            try:
                if self.page.evaluate(ANSWERED, self.taps[-1]):
                    break
                if self.page.url.startswith("chrome-error:"):  # killed between the answer and the page it leads to
                    break
            except Error:
                pass  # between two pages
            self.page.wait_for_timeout(20)
        else:
            pytest.fail("a press was neither answered nor kept")
        if not self.page.url.startswith("chrome-error:"):
            self.queued += self.page.evaluate("document.querySelectorAll('form[data-waiting]').length > 0")

    def waiting(self) -> int:
        return self.page.evaluate("window.camberbook.store.all().then(all => all.length)")

    def open_again(self) -> None:
        self.page.goto(QUIET)

    def wait_until_left(self, most: int) -> None:
        for _ in range(SECONDS * 20):
            if self.waiting() <= most:
                return
            self.page.wait_for_timeout(50)
        pytest.fail(f"{self.waiting()} presses still wait")


def test_every_press_is_in_the_log_exactly_once(chromium: Browser, machine: Shop) -> None:
    tablet = Tablet(chromium, machine)
    finish = [(f"/blanks/{number}/finish/thicknessing/", machine.readings) for number in machine.numbers[:FINISHED]]
    hold = [(f"/blanks/{number}/hold/", {"hold-reason": "A shake"}) for number in machine.numbers[FINISHED:]]
    release = [(f"/blanks/{number}/release/", {}) for number in machine.numbers[FINISHED:]]

    def press_all(presses: list, seen: int, *, killed: bool = False) -> None:
        for action, typed in presses[: len(presses) - killed]:
            tablet.press(action, seen, **typed)
        if killed:
            action, typed = presses[-1]
            tablet.press(action, seen, killed=True, **typed)

    first = finish + hold
    press_all(first[:30], machine.version, killed=True)  # the last while the machine works on it
    if tablet.page.url.startswith("chrome-error:"):
        machine.start()
        tablet.open_again()
        machine.kill()
    press_all(first[30:80], machine.version)  # nobody is there
    machine.start()
    tablet.wait_until_left(tablet.waiting() - 5)
    machine.kill()  # in the middle of sending what waited
    press_all(first[80:110], machine.version)
    machine.start()
    press_all(first[110:140], machine.version)  # behind what is being sent
    tablet.wait_until_left(0)

    seen = machine.version + 1  # the holds made it so
    press_all(release[:10], seen, killed=True)
    if tablet.page.url.startswith("chrome-error:"):
        machine.start()
        tablet.open_again()
        machine.kill()
    press_all(release[10:50], seen)
    machine.start()
    tablet.wait_until_left(tablet.waiting() - 5)
    machine.kill()
    press_all(release[50:], seen)
    machine.start()
    tablet.wait_until_left(0)

    assert len(tablet.taps) == 200 and machine.kills >= 4
    assert tablet.queued >= 100, "they were not all sent at once"
    with sqlite3.connect(machine.folder / "camberbook.sqlite3") as database:
        rows = database.execute("select request_id, count(*) from boards_logentry group by request_id").fetchall()
    kept = {str(uuid.UUID(tap)): count for tap, count in rows if tap}
    assert {tap: kept.get(tap, 0) for tap in tablet.taps} == dict.fromkeys(tablet.taps, 1)
    machine.manage("check_log")
