"""`manage.py workout`: the geometry service as JSON."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from typing import Any

from geometry.contract import answer
from geometry.schema import request_schema
from shop.management.json_command import JsonCommand


class Command(JsonCommand):
    """Read a request for a board (or an array of them) as JSON, and print what it works out to."""

    help = "Work out a fretboard: JSON in, JSON out. Exit code 2 when something cannot be worked out."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the file and the switch for the schema."""
        super().add_arguments(parser)
        parser.add_argument("--schema", action="store_true", help="print the JSON Schema of a request instead")

    def answer(self, data: bytes) -> tuple[str, int]:
        """Work out what is asked."""
        return answer(data)

    def handle(self, *args: Any, schema: bool, **options: Any) -> None:
        """Print the schema, or the answer."""
        if schema:
            self.stdout.write(json.dumps(request_schema(), indent=2))
        else:
            super().handle(*args, **options)
