"""A pytest plugin for CI: a test that is skipped there has failed.

On a maker's machine a test without its browser may be skipped. In CI everything is installed, and a skip would hide
that something is not.
"""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

import pytest


def _fail_if_skipped(report: Any) -> Any:
    if report.skipped and not hasattr(report, "wasxfail"):
        report.outcome = "failed"
        report.longrepr = f"Skipped, and in CI nothing may be: {report.longrepr[-1]}"
    return report


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport() -> Generator[None, Any, Any]:
    """Look at each test."""
    return _fail_if_skipped((yield))


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report() -> Generator[None, Any, Any]:
    """Look at each file: it may be skipped as a whole."""
    return _fail_if_skipped((yield))
