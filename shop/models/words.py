"""Looking for words, whatever their case, in either database."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from django.db import connection
from django.db.models import Q


def anywhere(text: str, columns: Iterable[str]) -> Q:
    """Ask for a text in any of some columns, small or capital.

    PostgreSQL knows the small and capital letters of all alphabets. SQLite knows those of English alone, so a text with
    others is looked for by a regular expression, which Python judges. Neither takes é for e, nor ss for ß.
    """
    text = unicodedata.normalize("NFC", text)
    if text.isascii() or connection.vendor != "sqlite":
        lookup, sought = "icontains", text
    else:
        lookup, sought = "iregex", re.escape(text)
    found = Q()
    for column in columns:
        found |= Q(**{f"{column}__{lookup}": sought})
    return found


def begins_with(text: str, column: str) -> Q:
    """Ask for what begins with a text, as it is written, by the index of its column.

    SQLite compares letters by their code, so a span of texts does it; of `LIKE` it makes no use of the index.
    """
    if connection.vendor == "sqlite":
        return Q(**{f"{column}__gte": text, f"{column}__lt": text + chr(0x10FFFF)})
    return Q(**{f"{column}__startswith": text})
