"""`manage.py test`: run the tests with pytest."""

import os
import sys

from django.conf import settings
from django.core.management.base import BaseCommand


class Command(BaseCommand):
    """Run pytest; whatever stands after `test` is pytest's."""

    help = "Run the tests with pytest. Whatever stands after `test` goes to pytest: manage.py test -k intake tests/shop"

    def run_from_argv(self, argv: list[str]) -> None:
        """Leave the arguments to pytest, and end as it ends."""
        import pytest  # here, so that a shop can do without it

        os.chdir(settings.CHECKOUT)
        in_ci = ["-p", "tests.nothing_skipped"] if os.environ.get("CI") == "true" else []
        sys.exit(pytest.main(["-c", ".pytest.ini", "--rootdir", ".", *in_ci, *argv[2:]]))
