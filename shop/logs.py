"""What is written to the log: enough to mend a fault, and nothing of what people typed.

A traceback is written whole, with the lines of the program that it went through. What an error says of itself is not:
it may repeat what was typed. There what stands in quotation marks is struck out, and so is whatever the request
carried. Pages are named by their addresses' names, not by the addresses.
"""

from __future__ import annotations

import json
import logging
import re
import time
import traceback
from collections.abc import Callable, Iterator
from datetime import UTC, datetime

from django.core.exceptions import BadRequest, SuspiciousOperation
from django.http import HttpRequest, HttpResponse, RawPostDataException, UnreadablePostError

STRUCK = "…"
_QUOTED = re.compile(r"""'(?:[^'\\]|\\.)*'|"(?:[^"\\]|\\.)*"|=\((?:[^()]|\([^()]*\))*\)""", re.DOTALL)
_WORD = re.compile(r"[^\W_]{3,}")

pages = logging.getLogger("shop.requests")


def note_pages(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Note each answer: which page by its name, what came of it, how long it took."""

    def middleware(request: HttpRequest) -> HttpResponse:
        began = time.perf_counter()
        response = get_response(request)
        if pages.isEnabledFor(logging.INFO):
            said = {
                "page": _page(request),
                "method": request.method if request.method in ("GET", "HEAD", "POST") else "other",
                "status": response.status_code,
                "ms": round(1000 * (time.perf_counter() - began)),
            }
            pages.info("%(method)s %(page)s %(status)s %(ms)s ms", said, extra={"said": said})
        return response

    return middleware


def _page(request: HttpRequest) -> str:
    match = getattr(request, "resolver_match", None)
    return match.view_name if match is not None else "no page of ours"


def without_values(text: str, values: frozenset[str] = frozenset()) -> str:
    """Strike out what is quoted, and what is among the values, whole or word by word."""
    text = _QUOTED.sub(STRUCK, text)
    for value in sorted(values, key=len, reverse=True):
        text = re.sub(rf"(?<!\w){re.escape(value)}(?!\w)", STRUCK, text, flags=re.IGNORECASE)
    return text


def _typed(request: object) -> frozenset[str]:
    """List what a request carried: every value of a field, and its words."""
    if not isinstance(request, HttpRequest):
        return frozenset()
    try:
        lists = [*request.GET.lists(), *request.POST.lists(), *request.COOKIES.items()]
    except (BadRequest, SuspiciousOperation, UnreadablePostError, RawPostDataException, OSError):
        lists = [*request.GET.lists(), *request.COOKIES.items()]
    values = {value.strip() for _, held in lists for value in ([held] if isinstance(held, str) else held)}
    return frozenset(filter(None, values)) | {word for value in values for word in _WORD.findall(value)}


def _chain(error: BaseException | None) -> Iterator[BaseException]:
    """Go through an error and those that led to it, the first one first."""
    chain: list[BaseException] = []
    while error is not None and error not in chain:
        chain.append(error)
        error = error.__cause__ or (None if error.__suppress_context__ else error.__context__)
    return reversed(chain)


class _Quiet(logging.Formatter):
    """What both ways of writing share."""

    def message(self, record: logging.LogRecord) -> str:
        request = getattr(record, "request", None)
        if isinstance(request, HttpRequest):  # Django names the address, of which a part may have been typed
            return f"{record.levelname.capitalize()} on {_page(request)}, {request.method}"
        text = record.getMessage()
        return without_values(text) if record.name.startswith("django") else text

    def trace(self, record: logging.LogRecord) -> str:
        error = record.exc_info[1] if record.exc_info else None
        typed = _typed(getattr(record, "request", None)) if error else frozenset()
        return "".join(
            "".join(traceback.format_tb(each.__traceback__))
            + f"{type(each).__module__}.{type(each).__qualname__}: {without_values(_said_by(each), typed)}\n"
            for each in _chain(error)
        ).rstrip()

    def formatException(self, ei: object) -> str:  # noqa: N802 - logging's own name; nothing is to be cached here
        return ""


def _said_by(error: BaseException) -> str:
    try:
        return str(error).partition("\n")[0]  # PostgreSQL tells the row in a second line
    except Exception:  # an error that cannot even say what it is
        return ""


class Lines(_Quiet):
    """Lines for people."""

    def format(self, record: logging.LogRecord) -> str:
        """Write a record, and below it what went wrong."""
        line = f"{self.formatTime(record)} {record.levelname} {record.name}: {self.message(record)}"
        trace = self.trace(record)
        return f"{line}\n{trace}" if trace else line


class JsonLines(_Quiet):
    """One JSON object a line, for programs."""

    def format(self, record: logging.LogRecord) -> str:
        """Write a record."""
        said = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "from": record.name,
            **(getattr(record, "said", None) or {"message": self.message(record)}),
        }
        trace = self.trace(record)
        return json.dumps(said | {"trace": trace} if trace else said, ensure_ascii=False)
