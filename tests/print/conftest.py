"""Sheets are printed without a murmur from the renderer, unless a test is about what it says."""

from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def nothing_said(caplog: pytest.LogCaptureFixture) -> Iterator[None]:
    yield
    said = [record.getMessage() for record in caplog.get_records("call") if record.name == "boards.printing"]
    assert not said, "the renderer complained; a test that expects it clears caplog"
