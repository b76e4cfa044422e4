"""`serve` as people run it: a process of its own, a free port, data in a new folder."""

from __future__ import annotations

import http.client
import io
import os
import queue
import re
import signal
import socket
import stat
import subprocess
import sys
import threading
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.utils import timezone

from shop import addresses
from shop.datafolder import make_private
from shop.management.commands.serve import Command
from shop.models import Tap, User

SECONDS = 60  # to give up after, on a busy machine


class Server:
    """A `serve` that runs, with what it has printed."""

    @staticmethod
    def environment(folder: Path) -> dict[str, str]:
        kept = {
            name: value
            for name, value in os.environ.items()
            if not name.startswith(("CAMBERBOOK_", "DJANGO_", "DATABASE_URL"))
        }
        return kept | {"CAMBERBOOK_DATA": str(folder), "CAMBERBOOK_PREPARE": "no", "PYTHONUNBUFFERED": "1"}

    before = None  # done in the process before it starts

    def __init__(self, folder: Path, *arguments: str, **environment: str) -> None:
        self.process = subprocess.Popen(
            [sys.executable, settings.CHECKOUT / "manage.py", "serve", "--port", "0", *arguments],
            env=self.environment(folder) | environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            preexec_fn=self.before,
        )
        self.lines: queue.Queue[str] = queue.Queue()
        self.said: list[str] = []
        threading.Thread(target=self._listen, daemon=True).start()

    def _listen(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.lines.put(line.rstrip("\n"))

    def wait_for(self, start: str) -> str:
        while True:
            try:
                self.said.append(self.lines.get(timeout=SECONDS))
            except queue.Empty:
                pytest.fail(f"it never said {start!r}, only {self.said}")
            if self.said[-1].startswith(start):
                return self.said[-1]

    @property
    def port(self) -> int:
        return next(int(found[1]) for line in self.said if (found := re.search(r"http://.*:(\d+)/", line)))

    def get(self, path: str, host: str | None = None, **headers: str) -> http.client.HTTPResponse:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=SECONDS)
        connection.request("GET", path, headers=({"Host": host} if host else {}) | headers)
        response = connection.getresponse()
        response.text = response.read().decode()
        connection.close()
        return response

    def stop(self, how: signal.Signals) -> int:
        self.process.send_signal(how)
        return self.process.wait(timeout=SECONDS)


@pytest.fixture
def serve(tmp_path: Path) -> Iterator:
    servers = []

    def start(*arguments: str, **environment: str) -> Server:
        servers.append(Server(tmp_path, *arguments, **environment))
        return servers[-1]

    yield start
    for server in servers:
        if server.process.poll() is None:
            server.process.kill()
            server.process.wait()


def test_from_nothing_to_the_first_page_and_a_clean_end(serve, tmp_path: Path) -> None:
    server = serve()
    server.wait_for("Ctrl-C stops it.")
    assert f"Data: {tmp_path}" in server.said
    assert "There is no account yet: the first page asks for yours." in server.said
    assert not any("network" in line for line in server.said)

    first = server.get("/")
    assert (first.status, first.headers["Location"]) == (302, "/sign-in/?next=/")
    assert server.get("/sign-in/").headers["Location"] == "/first-run/"
    page = server.get("/first-run/")
    assert page.status == 200 and "Whose shop is this?" in page.text
    assert "script-src" not in page.headers["Content-Security-Policy"]
    assert "default-src 'self'" in page.headers["Content-Security-Policy"]

    # The packed style sheets and fonts are there, under names that change with their content.
    sheet = server.get(re.search(r'href="(/static/shop/type\.[0-9a-f]{12}\.css)"', page.text)[1])
    assert sheet.status == 200 and "immutable" in sheet.headers["Cache-Control"]
    font = re.search(r'url\("(fonts/source-sans-400\.[0-9a-f]{12}\.woff2)"\)', sheet.text)[1]
    connection = http.client.HTTPConnection("127.0.0.1", server.port, timeout=SECONDS)
    connection.request("GET", f"/static/shop/{font}")
    assert connection.getresponse().read(4) == b"wOF2"  # W3C, WOFF File Format 2.0: the signature
    connection.close()

    assert server.stop(signal.SIGINT) == 0
    server.wait_for("Stopped.")
    assert stat.S_IMODE((tmp_path / "camberbook.sqlite3").stat().st_mode) == 0o600

    # The next start finds everything in place.
    again = serve()
    again.wait_for("Ctrl-C stops it.")
    assert "Packing the static files" in server.said and "Packing the static files" not in again.said
    assert again.stop(signal.SIGTERM) == 0
    assert again.wait_for("Stopped.")


@pytest.mark.django_db
def test_presses_long_past_are_forgotten_when_serving_starts(
    maker: User, tmp_path: Path, settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = timezone.now()
    for days in (0, 59, 61, 400):
        Tap.objects.create(by=maker, path=f"/{days}/", answer="/", at=now - timedelta(days=days))
    settings.DATA = tmp_path
    monkeypatch.setattr(Command, "_collect_static_files", lambda self, stamp: None)
    Command(stdout=io.StringIO())._set_up()
    assert set(Tap.objects.values_list("path", flat=True)) == {"/0/", "/59/"}


def test_a_private_file_is_made_once_and_never_emptied(tmp_path: Path) -> None:
    file = tmp_path / "database"
    make_private(file)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    file.write_text("boards")
    make_private(file)
    assert file.read_text() == "boards"
    make_private(tmp_path / "no such folder" / "database")


def test_the_shops_network(serve) -> None:
    server = serve("--host", "0.0.0.0")
    server.wait_for("Ctrl-C stops it.")
    assert "Plain http can be read along the way. Keep it to the shop's own network." in server.said
    own = addresses.lan_addresses() or addresses.own_names()
    assert [line for line in server.said if line.startswith("Open ")] == [
        f"Open http://{address}:{server.port}/ on the tablet" for address in own
    ]
    for host in (*own, socket.gethostname()):
        assert server.get("/sign-in/", host=f"{host}:{server.port}").status == 302
    stranger = server.get("/sign-in/", host="shop.example")
    assert stranger.status == 400
    assert "does not answer to the address shop.example" in stranger.text


def test_https_is_believed_from_the_proxy_only(serve) -> None:
    server = serve(CAMBERBOOK_HTTPS="yes", CAMBERBOOK_HOSTS="bench.example")
    server.wait_for("Ctrl-C stops it.")
    plain = server.get("/sign-in/", host="bench.example")
    assert (plain.status, plain.headers["Location"]) == (301, "https://bench.example/sign-in/")
    secure = server.get("/first-run/", host="bench.example", **{"X-Forwarded-Proto": "https"})
    assert secure.status == 200
    assert secure.headers["Strict-Transport-Security"] == "max-age=31536000"
    assert "Secure" in secure.headers["Set-Cookie"]
    server.stop(signal.SIGTERM)

    distrusting = serve(CAMBERBOOK_HTTPS="yes", CAMBERBOOK_PROXY="192.0.2.7", CAMBERBOOK_HOSTS="bench.example")
    distrusting.wait_for("Ctrl-C stops it.")
    assert distrusting.get("/first-run/", host="bench.example", **{"X-Forwarded-Proto": "https"}).status == 301


def refused(folder: Path, *arguments: str) -> str:
    server = Server(folder, *arguments)
    out_of = server.process.wait(timeout=SECONDS)
    said = []
    while not server.lines.empty() or not said:
        said.append(server.lines.get(timeout=SECONDS))
    assert out_of == 1
    assert len(said) == 1, said
    assert not (folder / "camberbook.sqlite3").exists()
    return said[0]


def test_a_port_that_is_in_use(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        assert refused(tmp_path, "--port", str(port)) == (
            f"CommandError: 127.0.0.1, port {port}, cannot be used: another program, or another start of this one, "
            "is using it. Choose another with --port or --host."
        )


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--port", "70000"), "There is no port 70000."),
        (("--host", "192.0.2.77"), "this machine has no such address"),
        (("--host", "no such host"), "cannot be used"),
        (("--host", "." * 70), "cannot be used"),
        (("--dem",), "Write --demo in full"),
    ],
)
def test_what_cannot_be_served(tmp_path: Path, arguments: tuple[str, ...], words: str) -> None:
    assert words in refused(tmp_path, *arguments)


def test_a_database_that_cannot_be_used(tmp_path: Path) -> None:
    (tmp_path / "camberbook.sqlite3").write_text("This is a letter, and a long one at that. " * 50)
    server = Server(tmp_path)
    assert server.process.wait(timeout=SECONDS) == 1
    line = server.wait_for("CommandError: The database cannot be used")
    assert str(tmp_path / "camberbook.sqlite3") in line


@pytest.mark.parametrize(
    ("address", "public"),
    [
        # RFC 1918, RFC 4193, RFC 3927, RFC 6598: not for the internet.
        *(
            (private, False)
            for private in ("192.168.1.20", "10.0.0.1", "172.31.0.9", "fd00::1", "169.254.1.1", "100.64.0.1")
        ),
        *((name, False) for name in ("127.0.0.1", "bench.local")),
        *((internet, True) for internet in ("203.0.114.1", "2a00::1")),
    ],
)
def test_which_addresses_are_public(address: str, public: bool) -> None:
    assert addresses.is_public(address) is public
