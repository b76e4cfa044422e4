"""`manage.py test`: run the tests with the runner that the settings name."""

import sys

from django.conf import settings
from django.core.management.base import BaseCommand
from django.test.utils import get_runner


class Command(BaseCommand):
    """Run the tests. Django's own command refuses arguments that it does not know; here all of them are pytest's."""

    help = "Run the tests with pytest. Whatever stands after `test` goes to pytest: manage.py test -k intake tests/shop"

    def run_from_argv(self, argv: list[str]) -> None:
        """Leave the arguments to the runner, and end as it ends."""
        sys.exit(get_runner(settings)().run_tests(argv[2:]))
