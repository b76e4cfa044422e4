"""Make what the program stands on, before Django can be imported: a Python environment with the packages, and Pango.

`manage.py` calls `prepare` under whichever python3 it was started with, so this module uses the standard library alone,
and no syntax that keeps an old Python from getting as far as saying that it is too old.

The environment is made once, in `.venv`. Its last file to be written is the stamp, which holds the hash of
requirements.txt and the version of Python: without the right stamp it counts as not made, and is made again from the
start. Whoever makes it holds a lock, and so does pip while it runs, even if the start that called it has been killed.
"""

import contextlib
import hashlib
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from typing import IO

from shop import pango

CHECKOUT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
VENV = os.path.join(CHECKOUT, ".venv")
PYTHON = os.path.join(VENV, "Scripts", "python.exe") if os.name == "nt" else os.path.join(VENV, "bin", "python")
STAMP = os.path.join(VENV, "camberbook-stamp")
LOCK = os.path.join(CHECKOUT, ".venv.lock")
REQUIREMENTS = os.path.join(CHECKOUT, "requirements.txt")
LEAST = (3, 11)

VENV_COMMANDS = {
    "debian": "sudo apt-get install python3-venv",
    "fedora": "sudo dnf install python3-pip",
    "alpine": "doas apk add py3-pip",
}


class CannotStart(Exception):
    """What failed, and what to do about it."""


def prepare(argv: "list[str]") -> None:
    """Go on in the environment that the program needs, making it first if it is not there.

    CAMBERBOOK_PREPARE=no goes on in this Python as it is, for an image or a package that brings everything along.
    """
    command = argv[1] if len(argv) > 1 else ""
    # These two have to be known before the settings are read.
    if command == "test":
        os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    if command == "serve" and "--demo" in argv:
        os.environ["CAMBERBOOK_DEMO"] = "yes"

    wanted = os.environ.get("CAMBERBOOK_PREPARE", "").strip().lower()
    if wanted not in ("", "yes", "no"):
        sys.exit(f"CAMBERBOOK_PREPARE is {wanted!r}. It can be yes or no.")
    if wanted != "no":
        try:
            made = _made()
            if not made:
                _make()
            if not made or not _inside():
                _go_on_in_environment(argv)
        except CannotStart as reason:
            sys.exit(str(reason))
        except KeyboardInterrupt:
            print("\nStopped. The next start takes it up again.", file=sys.stderr)
            sys.exit(130)
    if command in ("serve", "test") and not pango.printing_available():
        _say(pango.advice())


def _made() -> bool:
    try:
        with open(STAMP, encoding="ascii") as stamp:
            packages, version = stamp.read().split()
    except (OSError, ValueError):
        return False
    # Only from inside can the environment's own version be told: the Python under it may have been replaced.
    return packages == _packages() and os.access(PYTHON, os.X_OK) and (not _inside() or version == _version())


def _inside() -> bool:
    return os.path.realpath(sys.prefix) == os.path.realpath(VENV)


def _packages() -> str:
    with open(REQUIREMENTS, "rb") as requirements:
        return hashlib.sha256(requirements.read()).hexdigest()


def _version() -> str:
    return "{}.{}".format(*sys.version_info)


def _go_on_in_environment(argv: "list[str]") -> None:
    command = [PYTHON, os.path.abspath(argv[0]), *argv[1:]]
    sys.stdout.flush()
    sys.stderr.flush()
    if os.name == "nt":  # where exec would give the prompt back at once
        sys.exit(subprocess.call(command))
    os.execv(PYTHON, command)


def _make() -> None:
    if sys.version_info < LEAST:
        raise CannotStart(_too_old())
    try:
        with hold(LOCK, "Another start is making the environment. Waiting for it.") as lock:
            if not _made():  # unless that start has made it
                _make_all(lock)
    except PermissionError as error:
        raise CannotStart(f"{error.filename} cannot be written. Give this user the right to, or move it.") from None
    except OSError as error:
        raise CannotStart(f"The environment could not be made: {error}") from None


def _make_all(lock: "IO[str]") -> None:
    # From inside an environment that is out of date, its own Python is about to go.
    base = getattr(sys, "_base_executable", None) or sys.executable
    with contextlib.suppress(FileNotFoundError):
        os.remove(STAMP)
    _say(f"Step 1 of 3: making a Python {_version()} environment in {VENV}")
    _make_environment(base, lock)
    _say("Step 2 of 3: fetching the packages, once; this takes a minute or two")
    _install_packages(lock)
    _say("Step 3 of 3: looking for Pango, which draws the printed sheets")
    _install_pango()
    with open(STAMP + ".part", "w", encoding="ascii") as stamp:
        stamp.write(f"{_packages()} {_version()}\n")
    os.replace(STAMP + ".part", STAMP)
    _say("Everything is in place; the next start needs none of this.")


def _too_old() -> str:
    newer = [name for name in ("python3.13", "python3.12", "python3.11") if shutil.which(name)]
    how = f"Type {newer[0]} in place of python3." if newer else "Install a newer one, and start with that."
    return f"This needs Python {LEAST[0]}.{LEAST[1]} or newer, and this is Python {_version()}. {how}"


@contextlib.contextmanager
def hold(path: "str | os.PathLike[str]", waiting: str) -> "Iterator[IO[str]]":
    """Hold a lock; say so and wait if another process holds it. It falls open by itself when its holder ends."""
    with open(path, "a", encoding="ascii") as lock:
        if not _try_lock(lock):
            _say(waiting)
            while not _try_lock(lock):
                time.sleep(0.2)
        yield lock


def _try_lock(lock: "IO[str]") -> bool:
    try:
        if os.name == "nt":
            import msvcrt

            msvcrt.locking(lock.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _make_environment(base: str, lock: "IO[str]") -> None:
    if not _has_venv(base):
        _install_venv()
        if not _has_venv(base):
            raise CannotStart(f"{base} still cannot make an environment: its modules venv and ensurepip do not work.")
    failed = _run([base, "-m", "venv", "--clear", VENV], lock)
    if failed:
        raise CannotStart(f"The environment could not be made:\n{failed}")


def _has_venv(base: str) -> bool:
    # `version` reads the bundled pip, which Debian keeps in a package of its own.
    return not _run([base, "-c", "import venv, ensurepip; ensurepip.version()"])


def _install_venv() -> None:
    system = pango.system()
    if system == "debian" and _root():
        _say("        installing python3-venv, which this Python lacks")
        failed = _apt_get(["python3-venv"])
        if failed:
            raise CannotStart(
                f"This Python cannot make environments, and python3-venv could not be installed:\n{failed}"
            )
        return
    command = VENV_COMMANDS.get(system)
    how = f"Type: {command}" if command else "Install Python with venv and ensurepip."
    raise CannotStart(f"This Python cannot make environments. {how}\nThen start again.")


def _install_packages(lock: "IO[str]") -> None:
    options = ["--no-deps", "--disable-pip-version-check", "--no-input", "--progress-bar", "off"]
    failed = _run([PYTHON, "-m", "pip", "install", *options, "-r", REQUIREMENTS], lock, show=_show_package)
    if failed:
        raise CannotStart(
            f"The packages could not be installed. The last that pip said:\n{failed}\n"
            "If the network was away, start again when it is back."
        )


def _show_package(line: str) -> None:
    if line.startswith("Collecting "):
        _say(f"        {line.split()[1]}")
    elif line.startswith("Installing collected"):
        _say("        unpacking them")


def _install_pango() -> None:
    if pango.missing() and pango.system() == "debian" and _root():
        _say(f"        installing {' '.join(pango.DEBIAN_PACKAGES)}")
        failed = _apt_get(pango.DEBIAN_PACKAGES)
        if failed:
            _say(f"        that failed; printing stays off\n{failed}")


def _root() -> bool:
    return hasattr(os, "geteuid") and os.geteuid() == 0


def _apt_get(packages: "list[str]") -> str:
    """Install Debian packages; return what apt-get said if it failed."""
    install = ["apt-get", "install", "--yes", "--no-install-recommends", "-o", "DPkg::Lock::Timeout=120", *packages]
    # The lists of packages may be missing or old, and fetching them takes a while: only where it is needed.
    return _run(install) and (_run(["apt-get", "update"]) or _run(install))


def _run(command: "list[str]", lock: "IO[str] | None" = None, show: "Callable[[str], None] | None" = None) -> str:
    """Run a command, showing what is worth showing; return its last lines if it failed, nothing if it did not."""
    environment = dict(os.environ, PIP_USER="0", PIP_REQUIRE_VIRTUALENV="0", DEBIAN_FRONTEND="noninteractive")
    # A start that is killed leaves pip running. As pip has the lock too, the next start waits until it has ended.
    keep = {} if lock is None or os.name == "nt" else {"pass_fds": [lock.fileno()]}
    lines = []
    try:
        with subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env=environment,
            encoding="utf-8",
            errors="replace",
            **keep,
        ) as process:
            for line in process.stdout:
                lines.append(line.rstrip())
                if show:
                    show(line)
    except OSError as error:
        return f"{command[0]}: {error.strerror}"
    return "" if process.returncode == 0 else "\n".join(lines[-12:]) or f"{command[0]} ended with {process.returncode}"


def _say(line: str) -> None:
    # Not on standard output: that belongs to the command, and may be JSON.
    print(line, file=sys.stderr, flush=True)
