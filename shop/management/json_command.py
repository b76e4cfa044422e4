"""What the commands that take JSON and give JSON have in common."""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from geometry.contract import not_read


class JsonCommand(BaseCommand):
    """Read JSON from a file or from standard input, print JSON, and leave with code 2 when something is wrong.

    No database is needed, so no checks are run.
    """

    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Add the file."""
        parser.add_argument("file", nargs="?", metavar="FILE", help="the request; standard input if left out")

    def answer(self, data: bytes) -> tuple[str, int]:
        """Answer a JSON text: the answer, and the code to leave with."""
        raise NotImplementedError

    def handle(self, *args: Any, file: str | None, **options: Any) -> None:
        """Print the answer, and leave with its code."""
        try:
            data = Path(file).read_bytes() if file is not None else sys.stdin.buffer.read()
        except (OSError, ValueError) as error:
            text, code = not_read(error)
        else:
            text, code = self.answer(data)
        self.stdout.write(text)
        if code:
            sys.exit(code)
