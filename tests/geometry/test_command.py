"""`manage.py workout`, run as people run it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.geometry.test_contract import PLAIN

ROOT = Path(__file__).parents[2]


def workout(*arguments, data=b"", **environment):
    return subprocess.run(
        [sys.executable, ROOT / "manage.py", "workout", *arguments],
        input=data,
        capture_output=True,
        timeout=60,
        env={**os.environ, **environment},
        check=False,
    )


def test_standard_input_and_a_file_give_the_same(tmp_path):
    text = json.dumps(PLAIN).encode()
    (tmp_path / "board.json").write_bytes(text)
    piped, read = workout(data=text), workout(tmp_path / "board.json")
    assert piped.returncode == read.returncode == 0
    assert piped.stdout == read.stdout
    assert json.loads(piped.stdout)["blank_needed"]["width"] == 63


def test_the_schema_is_printed():
    assert json.loads(workout("--schema").stdout)["$schema"].endswith("2020-12/schema")


@pytest.mark.parametrize(("arguments", "data"), [(["/no/such/file"], b""), ([], b"\xff"), ([], b"[7]")])
def test_errors_are_json_with_code_2_and_no_traceback(arguments, data):
    done = workout(*arguments, data=data)
    found = json.loads(done.stdout)
    assert done.returncode == 2
    assert (found[0] if isinstance(found, list) else found)["errors"]
    assert b"Traceback" not in done.stderr


def test_no_database_is_needed(tmp_path):
    done = workout(data=json.dumps(PLAIN).encode(), DATABASE_URL=f"sqlite:///{tmp_path}/nowhere/at/all.sqlite3")
    assert done.returncode == 0
