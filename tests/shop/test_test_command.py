"""`manage.py test`: pytest's arguments in, pytest's words and exit code out."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings

CASES = """
import pytest

def test_kept(): pass
def test_left(): pass
def test_wrong(): assert False
@pytest.mark.skip(reason="no browser")
def test_skipped(): pass
@pytest.mark.xfail
def test_expected_to_fail(): assert False
"""


def run(*arguments: str, ci: str = "") -> subprocess.CompletedProcess[str]:
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("CAMBERBOOK_", "DJANGO_", "PYTEST_")) and name != "CI"
    }
    return subprocess.run(
        [sys.executable, settings.CHECKOUT / "manage.py", "test", "-p", "no:cacheprovider", *arguments],
        env=kept | {"CAMBERBOOK_PREPARE": "no"} | ({"CI": ci} if ci else {}),
        capture_output=True,
        text=True,
    )


@pytest.fixture
def cases(tmp_path: Path) -> str:
    (tmp_path / "test_cases.py").write_text(CASES)
    return str(tmp_path / "test_cases.py")


def test_hands_on_what_follows_and_ends_as_pytest_does(cases: str) -> None:
    done = run(cases, "-k", "kept or left", "--tb=no", "-q")
    assert done.returncode == 0
    assert done.stdout.splitlines()[-1].startswith("2 passed, 3 deselected in ")
    assert run(cases, "-k", "wrong").returncode == 1
    assert run(cases, "-k", "no_such_test").returncode == 5
    assert run("--no-such-option").returncode == 4


@pytest.mark.parametrize(("ci", "code", "last"), [("", 0, "1 skipped"), ("true", 1, "1 error")])
def test_in_ci_nothing_may_be_skipped(cases: str, ci: str, code: int, last: str) -> None:
    done = run(cases, "-k", "skipped or expected", ci=ci)
    assert done.returncode == code
    closing = done.stdout.splitlines()[-1]
    assert last in closing and "1 xfailed" in closing


def test_in_ci_no_file_may_be_skipped(tmp_path: Path) -> None:
    (tmp_path / "test_all.py").write_text('import pytest\npytest.importorskip("no_such_module")\ndef test(): pass\n')
    done = run(str(tmp_path), ci="true")
    assert done.returncode == 2
    assert "in CI nothing may be" in done.stdout
