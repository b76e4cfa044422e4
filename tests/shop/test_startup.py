"""The first start: from a bare python3 to an environment with the packages, whatever comes between."""

from __future__ import annotations

import ast
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from shop import pango, startup

CHECKOUT = Path(startup.CHECKOUT)

MANAGE = """
import sys
from shop.startup import prepare
prepare(sys.argv)
import stand_in
print(sys.prefix, stand_in.__name__)
"""

# A package with a build backend of its own, so that installing it needs no network. It waits as long as the file `wait`
# is beside it, and says that it has begun.
PYPROJECT = '[build-system]\nrequires = []\nbuild-backend = "backend"\nbackend-path = ["."]\n'
BACKEND = """
import pathlib, time, zipfile

KIND = "Wheel-Version: 1.0\\nRoot-Is-Purelib: true\\nTag: py3-none-any\\n"

def build_wheel(folder, config_settings=None, metadata_directory=None):
    here = pathlib.Path(__file__).parent
    (here / "begun").touch()
    while (here / "wait").exists():
        time.sleep(0.05)
    name = "stand_in-1.0-py3-none-any.whl"
    with zipfile.ZipFile(pathlib.Path(folder, name), "w") as wheel:
        wheel.writestr("stand_in.py", "")
        wheel.writestr("stand_in-1.0.dist-info/METADATA", "Metadata-Version: 2.1\\nName: stand-in\\nVersion: 1.0\\n")
        wheel.writestr("stand_in-1.0.dist-info/WHEEL", KIND)
        wheel.writestr("stand_in-1.0.dist-info/RECORD", "")
    return name
"""


class Checkout:
    """A checkout with the real start-up, one small package to install, and nothing else."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.package = folder / "package"
        self.stamp = folder / ".venv" / "camberbook-stamp"
        (folder / "shop").mkdir(parents=True)
        self.package.mkdir()
        (folder / "manage.py").write_text(MANAGE)
        (folder / "shop" / "__init__.py").touch()
        for module in ("startup.py", "pango.py"):
            shutil.copy(CHECKOUT / "shop" / module, folder / "shop")
        (self.package / "pyproject.toml").write_text(PYPROJECT)
        (self.package / "backend.py").write_text(BACKEND)
        (folder / "requirements.txt").write_text(f"{self.package}\n")
        self.started: list[subprocess.Popen[str]] = []

    def start(self) -> subprocess.Popen[str]:
        environment = {
            name: value for name, value in os.environ.items() if not name.startswith(("CAMBERBOOK_", "PIP_"))
        }
        environment |= {"PIP_NO_INDEX": "1", "PIP_CONFIG_FILE": os.devnull}
        process = subprocess.Popen(
            [sys.executable, self.folder / "manage.py", "check"],
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        self.started.append(process)
        return process

    def run(self) -> tuple[int, str, str]:
        process = self.start()
        out, err = process.communicate(timeout=120)
        return process.returncode, out, err

    @property
    def begun(self) -> bool:
        return (self.package / "begun").exists()

    def is_made(self, out: str) -> bool:
        return out == f"{self.folder / '.venv'} stand_in\n" and self.stamp.is_file()


@pytest.fixture
def checkout(tmp_path: Path) -> Iterator[Checkout]:
    checkout = Checkout(tmp_path / "checkout")
    yield checkout
    for process in checkout.started:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.communicate()


def wait_until(true: Callable[[], bool]) -> None:
    give_up = time.monotonic() + 60
    while not true():
        assert time.monotonic() < give_up, "it never came to that"
        time.sleep(0.02)


def test_first_start_makes_the_environment_and_the_next_does_nothing(checkout: Checkout) -> None:
    code, out, err = checkout.run()
    assert code == 0 and checkout.is_made(out), err
    assert [line[:6] for line in err.splitlines() if line.startswith("Step")] == ["Step 1", "Step 2", "Step 3"]

    (checkout.package / "begun").unlink()
    code, out, err = checkout.run()
    assert (code, err) == (0, "") and checkout.is_made(out)
    assert not checkout.begun

    # Other packages: what is there no longer counts.
    with open(checkout.folder / "requirements.txt", "a") as requirements:
        requirements.write("# another release\n")
    code, out, err = checkout.run()
    assert code == 0 and "Step 1 of 3" in err and checkout.is_made(out)


def test_a_killed_start_leaves_nothing_that_passes_for_an_environment(checkout: Checkout) -> None:
    (checkout.package / "wait").touch()
    first = checkout.start()
    wait_until(lambda: checkout.begun)
    os.killpg(first.pid, signal.SIGKILL)
    first.communicate()
    assert (checkout.folder / ".venv" / "pyvenv.cfg").exists() and not checkout.stamp.exists()

    (checkout.package / "wait").unlink()
    code, out, err = checkout.run()
    assert code == 0 and "Step 1 of 3" in err and checkout.is_made(out), err


@pytest.mark.skipif(os.name == "nt", reason="Windows ends pip's hold on the lock with its parent")
def test_the_next_start_waits_for_the_pip_that_a_killed_one_left_behind(checkout: Checkout) -> None:
    (checkout.package / "wait").touch()
    first = checkout.start()
    wait_until(lambda: checkout.begun)
    os.kill(first.pid, signal.SIGKILL)  # pip lives on
    first.wait()

    second = checkout.start()
    assert second.stderr is not None
    assert second.stderr.readline() == "Another start is making the environment. Waiting for it.\n"
    (checkout.package / "wait").unlink()
    out, err = second.communicate(timeout=120)
    assert second.returncode == 0 and "Step 1 of 3" in err and checkout.is_made(out), err


def test_of_two_starts_at_once_one_makes_it_and_both_go_on(checkout: Checkout) -> None:
    (checkout.package / "wait").touch()
    first = checkout.start()
    wait_until(lambda: checkout.begun)
    second = checkout.start()
    assert second.stderr is not None
    assert second.stderr.readline() == "Another start is making the environment. Waiting for it.\n"
    (checkout.package / "wait").unlink()
    for process, steps in ((first, 3), (second, 0)):
        out, err = process.communicate(timeout=120)
        assert process.returncode == 0 and checkout.is_made(out) and err.count("Step ") == steps, err


def test_packages_that_cannot_be_fetched(checkout: Checkout) -> None:
    (checkout.folder / "requirements.txt").write_text("no-such-package-here==1.0\n")
    code, out, err = checkout.run()
    assert code == 1 and out == ""
    assert "The packages could not be installed." in err and "no-such-package-here" in err
    assert err.endswith("If the network was away, start again when it is back.\n")
    assert "Traceback" not in err
    assert not checkout.stamp.exists()


@pytest.mark.parametrize("module", ["manage.py", "shop/__init__.py", "shop/startup.py", "shop/pango.py"])
def test_an_old_python_can_read_as_far_as_the_words_that_it_is_too_old(module: str) -> None:
    ast.parse((CHECKOUT / module).read_text(encoding="utf-8"), feature_version=(3, 7))


def test_a_python_that_is_too_old(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(startup.sys, "version_info", (3, 9, 2, "final", 0))
    monkeypatch.setattr(startup.shutil, "which", lambda name: "/usr/bin/python3.12" if name == "python3.12" else None)
    with pytest.raises(startup.CannotStart) as refusal:
        startup._make()
    assert str(refusal.value) == (
        "This needs Python 3.11 or newer, and this is Python 3.9. Type python3.12 in place of python3."
    )


@pytest.mark.parametrize(
    ("system", "words"),
    [
        ("debian", "Type: sudo apt-get install python3-venv"),
        ("fedora", "Type: sudo dnf install python3-pip"),
        ("", "Install Python with venv and ensurepip."),
    ],
)
def test_a_python_that_cannot_make_environments(monkeypatch: pytest.MonkeyPatch, system: str, words: str) -> None:
    monkeypatch.setattr(pango, "system", lambda: system)
    monkeypatch.setattr(startup, "_root", lambda: False)
    with pytest.raises(startup.CannotStart, match=f"This Python cannot make environments. {words}"):
        startup._install_venv()


def test_whether_a_python_can_make_environments_is_tried(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert startup._has_venv(sys.executable)
    # As Debian's python3 is without python3-venv: the module is there, and what it reads is not.
    (tmp_path / "ensurepip.py").write_text("def version():\n    raise FileNotFoundError('no wheels')\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    assert not startup._has_venv(sys.executable)


@pytest.mark.skipif(os.name == "nt", reason="apt-get is Debian's")
@pytest.mark.parametrize(
    ("script", "said", "calls"),
    [
        ("exit 0", "", ["install"]),
        ('test "$1" = update && touch lists; test -e lists', "", ["install", "update", "install"]),
        ("echo E: no network; exit 100", "E: no network", ["install", "update"]),
    ],
)
def test_debian_packages(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, script: str, said: str, calls: list[str]
) -> None:
    tool = tmp_path / "apt-get"
    tool.write_text(f'#!/bin/sh\ncd "$(dirname "$0")"\necho "$1" >> calls\n{script}\n')
    tool.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}{os.environ['PATH']}")
    assert startup._apt_get(["libpango-1.0-0"]) == said
    assert (tmp_path / "calls").read_text().split() == calls


def test_printing_is_available_where_weasyprint_loads() -> None:
    weasyprint = subprocess.run([sys.executable, "-W", "ignore", "-c", "import weasyprint"], capture_output=True)
    pango.printing_available.cache_clear()
    assert pango.printing_available() == (weasyprint.returncode == 0)


@pytest.mark.parametrize(
    ("system", "words"),
    [
        ("debian", "type: sudo apt-get install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0"),
        ("fedora", "type: sudo dnf install pango"),
        ("arch", "type: sudo pacman -S pango"),
        ("alpine", "type: doas apk add pango fontconfig"),
        ("macos", "type: brew install pango"),
        ("windows", "type: pacman -S mingw-w64-ucrt-x86_64-pango"),
        ("", "install Pango 1.44 or newer."),
    ],
)
def test_what_to_type_where_pango_is_missing(monkeypatch: pytest.MonkeyPatch, system: str, words: str) -> None:
    monkeypatch.setattr(pango, "_LIBRARIES", {"Pango": ["libno-such-pango.so.9", "no-such-pango"]})
    monkeypatch.setattr(pango, "system", lambda: system)
    assert pango.missing() == ["Pango"]
    assert pango.advice().startswith("Printing is off, because this machine has no Pango.")
    assert words in pango.advice()


@pytest.mark.parametrize(
    ("release", "family"),
    [
        ({"ID": "debian"}, "debian"),
        ({"ID": "ubuntu", "ID_LIKE": "debian"}, "debian"),
        ({"ID": "rocky", "ID_LIKE": "rhel centos fedora"}, "fedora"),
        ({"ID": "alpine"}, "alpine"),
        ({"ID": "void"}, ""),
    ],
)
def test_which_system_this_is(monkeypatch: pytest.MonkeyPatch, release: dict[str, str], family: str) -> None:
    monkeypatch.setattr(pango.sys, "platform", "linux")
    monkeypatch.setattr(pango.platform, "freedesktop_os_release", lambda: release)
    assert pango.system() == family
