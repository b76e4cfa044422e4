"""`manage.py workout`: the geometry service as JSON."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from geometry.contract import answer, not_read
from geometry.schema import request_schema


class Command(BaseCommand):
    """Read a request for a board (or an array of them) as JSON, and print what it works out to."""

    help = "Work out a fretboard: JSON in, JSON out. Exit code 2 when something cannot be worked out."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the file and the switch for the schema."""
        parser.add_argument("file", nargs="?", metavar="FILE", help="the request; standard input if left out")
        parser.add_argument("--schema", action="store_true", help="print the JSON Schema of a request instead")

    def handle(self, *args: Any, file: str | None, schema: bool, **options: Any) -> None:
        """Print the answer, and leave with its code."""
        if schema:
            self.stdout.write(json.dumps(request_schema(), indent=2, ensure_ascii=True))
            return
        try:
            data = Path(file).read_bytes() if file is not None else sys.stdin.buffer.read()
        except (OSError, ValueError) as error:
            text, code = not_read(error)
        else:
            text, code = answer(data)
        self.stdout.write(text)
        if code:
            sys.exit(code)
