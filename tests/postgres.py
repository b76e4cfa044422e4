"""A PostgreSQL of the tests' own, which goes away with them: a cluster in a new folder, with its socket there too.

`python3 -m tests.postgres COMMAND …` runs a command with CAMBERBOOK_TESTS_DATABASE set to one.
"""

from __future__ import annotations

import atexit
import contextlib
import functools
import os
import shutil
import subprocess
import sys
import tempfile
import uuid
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import psycopg
import pytest

NAME = "CAMBERBOOK_TESTS_DATABASE"
OWNER = "camberbook"
# It need not survive a power cut, and whoever runs the tests twice wants no order of words but the code's.
CAREFREE = "-c fsync=off -c synchronous_commit=off -c full_page_writes=off"


@functools.cache
def programs() -> Path | None:
    """Find the folder with PostgreSQL's server: of Debian's several versions the newest."""
    debian = Path("/usr/lib/postgresql").glob("*/bin/initdb")
    found = sorted(debian, key=lambda path: float(path.parts[-3])) or list(filter(None, [shutil.which("initdb")]))
    return Path(found[-1]).resolve().parent if found else None


@contextlib.contextmanager
def cluster() -> Iterator[str]:
    """Run a PostgreSQL, and give the URL by which its owner reaches it, without a database's name at the end."""
    folder = Path(tempfile.mkdtemp(prefix="camberbook-pg-"))  # short: the name of a socket may have 107 bytes
    data, as_nobody = folder / "data", []
    if os.geteuid() == 0:  # as whom PostgreSQL does not run
        shutil.chown(folder, "nobody")
        as_nobody = ["setpriv", "--reuid=nobody", "--regid=nogroup", "--clear-groups"]

    def run(program: str, *arguments: str | Path) -> None:
        subprocess.run(
            [*as_nobody, programs() / program, *arguments],
            check=True,
            stdout=subprocess.DEVNULL,
            cwd=folder,
            env={"PATH": os.environ["PATH"], "LC_ALL": "C"},
        )

    try:
        run("initdb", "-D", data, "-A", "trust", "-U", OWNER, "-E", "UTF8", "--locale=C.UTF-8", "--no-sync")
        listening = f"-k {folder} -c listen_addresses='' -c unix_socket_permissions=0700 -c max_connections=60"
        run("pg_ctl", "-D", data, "-w", "-t", "120", "-l", folder / "log", "-o", f"{listening} {CAREFREE}", "start")
        try:
            yield f"postgres://{OWNER}@{str(folder).replace('/', '%2F')}/"
        finally:
            run("pg_ctl", "-D", data, "-w", "-m", "immediate", "stop")
    finally:
        shutil.rmtree(folder, ignore_errors=True)


@contextlib.contextmanager
def a_database() -> Iterator[str]:
    """Give the URL of an empty database: on the server that the tests run on, or else on one started for them."""
    if programs() is None and NAME not in os.environ:
        pytest.skip("There is no PostgreSQL server on this machine: install the package postgresql.")
    server = urlsplit(os.environ.get(NAME) or _shared())
    name = f"tried_{uuid.uuid4().hex[:12]}"

    def tell(command: str) -> None:
        with psycopg.connect(server._replace(path="/postgres").geturl(), autocommit=True) as connection:
            connection.execute(command)

    tell(f"CREATE DATABASE {name}")
    yield server._replace(path=f"/{name}").geturl()
    tell(f"DROP DATABASE {name} WITH (FORCE)")


@functools.cache
def _shared() -> str:
    """Start the one cluster of this run, when it is first asked for; it is stopped when Python ends."""
    stack = contextlib.ExitStack()
    atexit.register(stack.close)
    return stack.enter_context(cluster())


if __name__ == "__main__":
    if programs() is None:
        sys.exit("There is no PostgreSQL server on this machine: install the package postgresql.")
    with cluster() as url:
        sys.exit(subprocess.call(sys.argv[1:], env={**os.environ, NAME: url + "camberbook"}))
