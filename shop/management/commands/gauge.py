"""`manage.py gauge`: read a board's radius off points, or its four corners, as JSON."""

from __future__ import annotations

from geometry.gauge_contract import answer
from shop.management.json_command import JsonCommand


class Command(JsonCommand):
    """Read measured points or corners (or an array of such) as JSON, and print what they say of the board."""

    help = "Read a fretboard's measurements: JSON in, JSON out. Exit code 2 when something cannot be read."

    def answer(self, data: bytes) -> tuple[str, int]:
        """Read what was measured."""
        return answer(data)
