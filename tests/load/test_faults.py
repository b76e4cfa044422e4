"""Faults of the machine, done to a real server: nothing acknowledged is lost, nothing is half done, words on the page.

Each ends with the same proof: every press that was acknowledged is in the log once, and `check_log` finds that each
blank stands where its log says.
"""

from __future__ import annotations

import contextlib
import ctypes
import http.client
import io
import json
import os
import resource
import signal
import socket
import sqlite3
import subprocess
import threading
import time
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import urlencode

import pytest
from PIL import Image

from tests.shop.machine import manage
from tests.shop.test_serve import SECONDS, Server

BLANKS = 125
ROUNDS = 4  # presses on each: held, let go on, held, let go on

SHOP = """
import json
from django.core.management import call_command
from django.test import Client
call_command("migrate", verbosity=0)
from tests.factories import make_blanks, make_build, make_hand, make_user
user = make_user("maker")
hand, build = make_hand(user), make_build()
blanks = make_blanks({blanks}, hand=hand)
for blank in blanks:
    blank.put_to(hand, blank.version, build)
client = Client()
client.force_login(user)
print(json.dumps([client.cookies["sessionid"].value, [blank.number for blank in blanks], blanks[0].version]))
"""

TOKEN = "t" * 32  # of forms: Django compares what the form carries with the cookie


class PlainUser(Server):
    """A server that has to keep to the rights of files, also where the tests run as root."""

    @staticmethod
    def before() -> None:
        # prctl(2), capabilities(7): PR_CAPBSET_DROP is 24, CAP_DAC_OVERRIDE 1. Without the right to drop it there is
        # none to drop.
        ctypes.CDLL(None).prctl(24, 1, 0, 0, 0)


class Answer:
    """What came back."""

    def __init__(self, response: http.client.HTTPResponse) -> None:
        self.status, self.headers, self.content = response.status, response.headers, response.read()

    @property
    def text(self) -> str:
        return self.content.decode()


class Machine:
    """The shop's machine, and whoever presses on it."""

    def __init__(self, folder: Path, blanks: int, *, patient: bool) -> None:
        self.folder, self.blanks = folder, blanks
        self.settings = "shop.settings" if patient else "tests.load.faulty"
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = free.getsockname()[1]
        made = manage(folder, "shell", "-v0", "-c", SHOP.format(blanks=blanks))
        self.session, self.numbers, self.version = json.loads(made.splitlines()[-1])
        self.start()

    def start(self) -> None:
        self.server = PlainUser(
            self.folder, "--port", str(self.port), DJANGO_SETTINGS_MODULE=self.settings, CAMBERBOOK_LOG="json"
        )
        self.server.wait_for("Ctrl-C stops it.")

    def ask(self, method: str, path: str, body: bytes = b"", **headers: str) -> Answer:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=SECONDS)
        with contextlib.closing(connection):
            cookies = f"sessionid={self.session}; csrftoken={TOKEN}"
            connection.request(method, path, body, {"Cookie": cookies, "X-CSRFToken": TOKEN, **headers})
            return Answer(connection.getresponse())

    def press(self, path: str, tap: str, **typed: object) -> Answer:
        body = urlencode({"tap": tap, **typed}).encode()
        return self.ask("POST", path, body, **{"Content-Type": "application/x-www-form-urlencoded"})

    def hold(self, number: str, tap: str, seen: int) -> Answer:
        return self.press(f"/blanks/{number}/hold/", tap, seen=seen, **{"hold-reason": "A shake"})

    def release(self, number: str, tap: str, seen: int) -> Answer:
        return self.press(f"/blanks/{number}/release/", tap, seen=seen)

    def kept(self) -> dict[str, int]:
        """Count how often each press is in the log."""
        with contextlib.closing(sqlite3.connect(self.folder / "camberbook.sqlite3")) as database:
            rows = database.execute("select request_id, count(*) from boards_logentry group by request_id").fetchall()
        return {str(uuid.UUID(tap)): count for tap, count in rows if tap}

    def state_of(self, number: str) -> tuple[str, int]:
        """Tell how a blank is, and in which version."""
        with contextlib.closing(sqlite3.connect(self.folder / "camberbook.sqlite3")) as database:
            return database.execute("select condition, version from boards_blank where number = ?", [number]).fetchone()

    def prove(self) -> None:
        assert f"{self.blanks} blanks stand where their logs say." in manage(self.folder, "check_log")

    def log(self) -> str:
        """Give what the server has written since."""
        lines = []
        while not self.server.lines.empty():
            lines.append(self.server.lines.get())
        return "\n".join(lines)


@contextlib.contextmanager
def machine_in(folder: Path, blanks: int, *, patient: bool = False) -> Iterator[Machine]:
    made = Machine(folder, blanks, patient=patient)
    try:
        yield made
    finally:
        if made.server.process.poll() is None:
            made.server.process.kill()
            made.server.process.wait()


@pytest.fixture(scope="module")
def machine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Machine]:
    """One machine for all faults but those that end it; each test has blanks of its own."""
    with machine_in(tmp_path_factory.mktemp("shop"), 6) as made:
        yield made


def refused_for_now(answer: Answer, heading: str) -> None:
    """What a fault of the machine looks like from a bench: words, and when to try again; nothing of the program."""
    assert answer.status == 503, answer.text
    assert int(answer.headers["Retry-After"]) >= 10
    assert f"<h1>{heading}</h1>" in answer.text
    assert "What you pressed was not done" in answer.text
    assert not any(word in answer.text for word in ("Traceback", "sqlite", "SQLITE", "Errno", "OperationalError"))


def works_again(machine: Machine, number: str, tap: str) -> None:
    """The same press, sent again as the outbox does it, is done once."""
    assert tap not in machine.kept()
    assert machine.state_of(number) == ("active", machine.version)
    assert machine.hold(number, tap, machine.version).status == 302
    assert machine.hold(number, tap, machine.version).status == 302  # delivered twice
    assert machine.kept()[tap] == 1
    assert machine.state_of(number) == ("held", machine.version + 1)
    machine.prove()


def test_killed_in_the_midst_of_500_writes(tmp_path: Path) -> None:
    """And each next start is clean: locks, a log that was not put into the database, files that were half written."""
    half = tmp_path / "files" / "ab" / "tmp123"
    with machine_in(tmp_path, BLANKS, patient=True) as machine:
        acknowledged: list[str] = []
        odd: list[object] = []
        up = threading.Event()
        up.set()

        def work(numbers: list[str]) -> None:
            for turn in range(ROUNDS):
                for number in numbers:
                    tap, act = str(uuid.uuid4()), machine.release if turn % 2 else machine.hold
                    while True:
                        assert up.wait(4 * SECONDS)
                        try:
                            answer = act(number, tap, machine.version + turn)
                        except (OSError, http.client.HTTPException):  # killed meanwhile: whether it is done, who knows
                            time.sleep(0.05)
                            continue
                        if answer.status != 302:
                            odd.append((answer.status, answer.text))
                            return
                        acknowledged.append(tap)
                        break

        with ThreadPoolExecutor(5) as people:
            working = [people.submit(work, machine.numbers[person::5]) for person in range(5)]
            for least in (60, 200, 380):
                while len(acknowledged) < least and not odd and any(not each.done() for each in working):
                    time.sleep(0.01)
                machine.server.stop(signal.SIGKILL)
                up.clear()
                before = list(acknowledged)
                assert (tmp_path / "camberbook.sqlite3-wal").stat().st_size > 0
                machine.start()
                kept = machine.kept()
                assert [tap for tap in before if kept.get(tap) != 1] == []
                up.set()
        for each in working:
            each.result()
        assert odd == []
        assert len(acknowledged) == BLANKS * ROUNDS == 500
        kept = machine.kept()
        assert {tap: kept.get(tap, 0) for tap in acknowledged} == dict.fromkeys(acknowledged, 1)
        assert {machine.state_of(number) for number in machine.numbers} == {("active", machine.version + ROUNDS)}
        machine.prove()
        half.parent.mkdir(parents=True)
        half.write_bytes(b"half")
        os.utime(half, (0, 0))
        said = manage(tmp_path, "daily")
        assert "half-written files: done" in said or "half-written files: not due" in said
        assert "Not everything" not in said
        manage(tmp_path, "daily", "--now")
        assert not half.exists()
        assert list((tmp_path / "backups").glob("camberbook-*.tar.gz"))
        assert machine.server.stop(signal.SIGTERM) == 0


def test_the_database_is_locked_by_another_program(machine: Machine) -> None:
    number, tap = machine.numbers[0], str(uuid.uuid4())
    with contextlib.closing(sqlite3.connect(machine.folder / "camberbook.sqlite3", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = machine.hold(number, tap, machine.version)
        refused_for_now(answer, "The shop&#x27;s machine is busy")
        assert answer.headers["Tap"] == tap and "Tap-Outcome" not in answer.headers
        # Who only looks is not held up.
        assert machine.ask("GET", f"/blanks/{number}/").status == 200
        assert machine.ask("GET", "/health/").text == "ok\n"
        other.execute("ROLLBACK")
    log = machine.log()
    assert "database is locked" in log and "Traceback" not in log.partition("{")[0]
    works_again(machine, number, tap)


def test_the_disk_takes_no_more(machine: Machine) -> None:
    """No file may grow: what a quota, or a file system's own limit, looks like."""
    number, tap = machine.numbers[1], str(uuid.uuid4())
    process = machine.server.process.pid
    soft, hard = resource.prlimit(process, resource.RLIMIT_FSIZE)
    resource.prlimit(process, resource.RLIMIT_FSIZE, (1, hard))
    try:
        answer = machine.hold(number, tap, machine.version)
    finally:
        resource.prlimit(process, resource.RLIMIT_FSIZE, (soft, hard))
    refused_for_now(answer, "The disk of the shop&#x27;s machine has a fault")
    works_again(machine, number, tap)


def test_the_data_folder_turns_read_only(machine: Machine) -> None:
    """As a disk does that has found an error in itself."""
    number, tap = machine.numbers[2], str(uuid.uuid4())
    files = [machine.folder, *machine.folder.glob("camberbook.sqlite3*")]
    rights = [file.stat().st_mode for file in files]
    for file in files:
        file.chmod(0o500)
    try:
        answer = machine.hold(number, tap, machine.version)
    finally:
        for file, mode in zip(files, rights, strict=True):
            file.chmod(mode)
    refused_for_now(answer, "The shop&#x27;s data cannot be written")
    works_again(machine, number, tap)


def test_a_start_on_a_read_only_folder_says_so(tmp_path: Path) -> None:
    (tmp_path / "secret-key").write_text("k" * 50)
    tmp_path.chmod(0o500)
    try:
        server = PlainUser(tmp_path, "--port", "0")
        assert server.process.wait(timeout=SECONDS) == 1
    finally:
        tmp_path.chmod(0o700)
    line = server.wait_for("CommandError: ")
    assert f"The data folder {tmp_path} cannot be used: Permission denied." in line


def _mount(folder: Path, megabytes: int) -> bool:
    command = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", str(folder)]
    with contextlib.suppress(FileNotFoundError):
        return subprocess.run(command, capture_output=True).returncode == 0
    return False


@contextlib.contextmanager
def small_disk(folder: Path) -> Iterator[Path]:
    """Give a folder with room for little: on a disk of its own where this user may mount one, else as it is."""
    folder.mkdir()
    mounted = _mount(folder, 24)
    try:
        yield folder
    finally:
        if mounted:
            subprocess.run(["umount", "-l", str(folder)], check=True)


def test_the_disk_is_full(tmp_path: Path) -> None:
    """On a small disk that is filled to the last byte; where none can be mounted, on a database that may not grow."""
    with small_disk(tmp_path / "disk") as folder, machine_in(folder, 60) as machine:
        number, tap = machine.numbers[0], str(uuid.uuid4())
        fill = folder / "fill"
        process = machine.server.process.pid
        limit = resource.prlimit(process, resource.RLIMIT_FSIZE)
        heading = "The disk of the shop&#x27;s machine is full"
        if os.path.ismount(folder):
            with fill.open("wb", buffering=0) as out, contextlib.suppress(OSError):
                for size in (2**20, 2**12, 1):
                    with contextlib.suppress(OSError):
                        while True:
                            out.write(b"\0" * size)
        else:
            heading = "The disk of the shop&#x27;s machine has a fault"
            resource.prlimit(process, resource.RLIMIT_FSIZE, (2**12, limit[1]))
        # What the log beside the database has room for is still done, and done well.
        done = []
        for one in machine.numbers[1:60]:
            answer = machine.hold(one, done_tap := str(uuid.uuid4()), machine.version)
            if answer.status != 302:
                break
            done.append(done_tap)
        refused_for_now(answer, heading)
        refused_for_now(machine.hold(number, tap, machine.version), heading)
        assert machine.ask("GET", "/health/").status == 200
        fill.unlink(missing_ok=True)
        resource.prlimit(process, resource.RLIMIT_FSIZE, limit)
        kept = machine.kept()
        assert {each: kept.get(each) for each in done} == dict.fromkeys(done, 1)
        works_again(machine, number, tap)


def test_the_clock_is_set_back(machine: Machine) -> None:
    """Three days: what is done meanwhile comes after what was done before, whatever its time says."""
    number, taps = machine.numbers[3], [str(uuid.uuid4()) for _ in range(3)]
    seen = machine.version
    assert machine.hold(number, taps[0], seen).status == 302
    clock = machine.folder / "clock"
    clock.write_text(str(-3 * 24 * 3600))
    try:
        assert machine.release(number, taps[1], seen + 1).status == 302
        assert machine.hold(number, taps[2], seen + 2).status == 302
        page = machine.ask("GET", f"/blanks/{number}/")
        assert page.status == 200 and machine.ask("GET", "/").status == 200
        doctor = manage(machine.folder, "doctor", fails=True, DJANGO_SETTINGS_MODULE="tests.load.faulty")
        assert "WRONG  Clock: It is " in doctor
    finally:
        clock.unlink()
    with contextlib.closing(sqlite3.connect(machine.folder / "camberbook.sqlite3")) as database:
        rows = database.execute(
            "select request_id, at from boards_logentry join boards_blank on boards_blank.id = blank_id "
            "where boards_blank.number = ? and request_id is not null order by boards_logentry.number",
            [number],
        ).fetchall()
    assert [str(uuid.UUID(tap)) for tap, _ in rows] == taps
    assert rows[0][1] > rows[1][1]  # the clock did go back
    assert machine.state_of(number) == ("held", seen + 3)
    machine.prove()


def picture() -> bytes:
    with io.BytesIO() as out:
        Image.effect_noise((300, 200), 90).convert("RGB").save(out, "JPEG")
        return out.getvalue()


def multipart(tap: str, content: bytes) -> tuple[bytes, dict[str, str]]:
    """Write a form with a file, as RFC 7578 has it."""
    edge = "edge-of-a-part"
    fields = "".join(
        f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'
        for name, value in (("tap", tap), ("note", ""))
    )
    head = (
        f'--{edge}\r\nContent-Disposition: form-data; name="photographs"; filename="blank.jpg"\r\n'
        "Content-Type: image/jpeg\r\n\r\n"
    )
    body = fields.encode() + head.encode() + content + f"\r\n--{edge}--\r\n".encode()
    return body, {"Content-Type": f"multipart/form-data; boundary={edge}"}


def test_uploads_that_are_not_whole(machine: Machine) -> None:
    path = f"/blanks/{machine.numbers[4]}/photographs/add/"
    whole = picture()
    kept = machine.folder / "files"
    for content in (whole[: len(whole) // 2], b"no picture at all", b"", whole[:20] + os.urandom(2000)):
        body, headers = multipart(str(uuid.uuid4()), content)
        answer = machine.ask("POST", path, body, **headers)
        assert answer.status == 422, answer.status
    # The tablet goes out of reach in the middle of sending.
    body, headers = multipart(str(uuid.uuid4()), whole)
    with socket.create_connection(("127.0.0.1", machine.port), timeout=SECONDS) as line:
        cookies = f"Cookie: sessionid={machine.session}; csrftoken={TOKEN}\r\nX-CSRFToken: {TOKEN}\r\n"
        typed = f"Content-Type: {headers['Content-Type']}\r\nContent-Length: {len(body)}\r\n"
        line.sendall(
            f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1\r\n{cookies}{typed}\r\n".encode() + body[: len(body) // 2]
        )
    assert [file for file in kept.rglob("*") if file.is_file()] == []

    body, headers = multipart(str(uuid.uuid4()), whole)
    assert machine.ask("POST", path, body, **headers).status == 302
    assert len([file for file in kept.rglob("*") if file.is_file()]) == 2  # with its small version
    machine.prove()


def children(process: int) -> list[int]:
    """List the processes that a process has started, as Linux tells them (proc(5))."""
    found = []
    for thread in Path(f"/proc/{process}/task").iterdir():
        with contextlib.suppress(OSError):  # a thread that has ended meanwhile
            found += map(int, (thread / "children").read_text().split())
    return found


def test_what_prints_is_killed_in_the_midst_of_it(machine: Machine) -> None:
    path = f"/blanks/{machine.numbers[5]}/traveller.pdf"
    assert machine.ask("GET", path).content.startswith(b"%PDF-")
    printing = children(machine.server.process.pid)
    assert printing
    for child in printing:
        os.kill(child, signal.SIGSTOP)  # so that it is caught in the midst
    with ThreadPoolExecutor(1) as person:
        asked = person.submit(machine.ask, "GET", path)
        time.sleep(1)
        assert not asked.done()
        assert machine.ask("GET", "/health/").text == "ok\n"  # the pages go on meanwhile
        for child in children(machine.server.process.pid):
            os.kill(child, signal.SIGKILL)
        answer = asked.result(timeout=SECONDS)
    assert answer.status == 503
    assert "Printing broke off. Try again." in answer.text
    assert "Traceback" not in answer.text
    assert machine.ask("GET", path).content.startswith(b"%PDF-")
    machine.prove()
