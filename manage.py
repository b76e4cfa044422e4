#!/usr/bin/env python3
"""Django's command-line utility for administrative tasks."""

import os
import sys

from shop.startup import prepare


def main() -> None:
    """Run administrative tasks."""
    prepare(sys.argv)  # on the first start this makes .venv; then it goes on inside it
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "shop.settings")
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main()
