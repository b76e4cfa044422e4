"""The settings: all of them in the handbook, nonsense refused in one line, and what they add up to."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.conf import settings

from shop import checks

CHECKOUT: Path = settings.CHECKOUT


def manage(folder: Path, *arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run manage.py with the real settings and nothing set but what is given."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("CAMBERBOOK_", "DJANGO_", "DATABASE_URL"))
    }
    kept |= {"CAMBERBOOK_DATA": str(folder), "CAMBERBOOK_PREPARE": "no"}
    return subprocess.run(
        [sys.executable, CHECKOUT / "manage.py", *arguments], env=kept | environment, capture_output=True, text=True
    )


def test_every_setting_is_in_the_handbook_and_the_other_way_round() -> None:
    read = set()
    for file in [CHECKOUT / "manage.py", *(CHECKOUT / "shop").rglob("*.py"), *(CHECKOUT / "boards").rglob("*.py")]:
        read |= set(re.findall(r"\"(CAMBERBOOK_[A-Z_]+|DATABASE_URL)\"", file.read_text(encoding="utf-8")))
    told = re.findall(r"^\| `([A-Z_]+)` \|", (CHECKOUT / "DEVELOPERS.md").read_text(encoding="utf-8"), re.MULTILINE)
    assert len(told) == len(set(told))
    assert read == set(told)


@pytest.mark.parametrize(
    ("variable", "value", "words"),
    [
        ("CAMBERBOOK_DEBUG", "maybe", "CAMBERBOOK_DEBUG is 'maybe'. It can be yes or no."),
        ("CAMBERBOOK_PREPARE", "maybe", "CAMBERBOOK_PREPARE is 'maybe'. It can be yes or no."),
        ("CAMBERBOOK_DATA", "data", "CAMBERBOOK_DATA is 'data'. It has to be a whole path"),
        ("CAMBERBOOK_TIME_ZONE", "Lisbon", "CAMBERBOOK_TIME_ZONE is 'Lisbon'."),
        ("CAMBERBOOK_SECRET_KEY_FILE", "/no/such/file", "CAMBERBOOK_SECRET_KEY_FILE is '/no/such/file'"),
        ("CAMBERBOOK_SECRET_KEY", "short", "CAMBERBOOK_SECRET_KEY is too short"),
        ("DATABASE_URL", "mysql://x", "DATABASE_URL starts with 'mysql'."),
    ],
)
@pytest.mark.parametrize("command", ["check", "serve"])
def test_nonsense_stops_the_start_with_one_line(
    tmp_path: Path, command: str, variable: str, value: str, words: str
) -> None:
    done = manage(tmp_path, command, **{variable: value})
    assert done.returncode == 1
    assert done.stdout == "" and done.stderr.count("\n") == 1 and done.stderr.startswith(words)


@pytest.mark.parametrize("https", ["no", "yes"])
def test_deployment_check_is_clean(tmp_path: Path, https: str) -> None:
    done = manage(tmp_path, "check", "--deploy", "--fail-level", "WARNING", CAMBERBOOK_HTTPS=https)
    assert done.returncode == 0, done.stderr
    assert "WARNINGS" not in done.stderr


def shown(folder: Path, *names: str, **environment: str) -> list[str]:
    script = "; ".join(["from django.conf import settings", *(f"print(settings.{name})" for name in names)])
    done = manage(folder, "shell", "--verbosity", "0", "-c", script, **environment)
    assert done.returncode == 0, done.stderr
    return done.stdout.splitlines()


def test_https_is_all_or_nothing(tmp_path: Path) -> None:
    names = ("SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE", "SECURE_SSL_REDIRECT", "SECURE_HSTS_SECONDS > 0")
    assert shown(tmp_path, *names) == ["False"] * 4
    assert shown(tmp_path, *names, CAMBERBOOK_HTTPS="yes") == ["True"] * 4


def test_the_demo_has_data_of_its_own_whatever_is_set(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'elsewhere.sqlite3'}"
    names = ("DATA", "DATABASES['default']['NAME']")
    assert shown(tmp_path, *names, DATABASE_URL=url) == [str(tmp_path), str(tmp_path / "elsewhere.sqlite3")]
    demo = tmp_path / "demo"
    assert shown(tmp_path, *names, DATABASE_URL=url, CAMBERBOOK_DEMO="yes") == [
        str(demo),
        str(demo / "camberbook.sqlite3"),
    ]


def test_debug_is_off(tmp_path: Path) -> None:
    assert shown(tmp_path, "DEBUG", "DEMO") == ["False", "False"]


@pytest.mark.parametrize(("version", "told"), [((3, 51, 2), True), ((3, 51, 3), False), ((4, 0, 0), False)])
def test_a_sqlite_with_the_fault_in_its_log_is_told_of(
    monkeypatch: pytest.MonkeyPatch, version: tuple[int, int, int], told: bool
) -> None:
    monkeypatch.setattr(checks.sqlite3, "sqlite_version_info", version)
    monkeypatch.setattr(checks, "connection", SimpleNamespace(vendor="sqlite"))
    messages = checks.sqlite_wal(None)
    assert [message.id for message in messages] == (["shop.I001"] if told else [])
    monkeypatch.setattr(checks, "connection", SimpleNamespace(vendor="postgresql"))
    assert checks.sqlite_wal(None) == []
