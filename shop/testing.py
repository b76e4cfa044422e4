"""The test runner: pytest, the way that pytest-django documents."""

from __future__ import annotations

import os
from collections.abc import Sequence
from typing import Any

from django.conf import settings


class PytestRunner:
    """Run the tests with pytest."""

    def __init__(self, **_options: Any) -> None:
        """Take no notice of Django's own options: pytest has its own for the same things."""

    def run_tests(self, test_labels: Sequence[str], **_more: Any) -> int:
        """Hand everything on to pytest and give back its exit code."""
        import pytest  # here, so that a shop can do without it

        os.chdir(settings.CHECKOUT)
        in_ci = ["-p", "tests.nothing_skipped"] if os.environ.get("CI") == "true" else []
        return int(pytest.main(["-c", ".pytest.ini", "--rootdir", ".", *in_ci, *test_labels]))
