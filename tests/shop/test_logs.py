"""What is written to the log, and that nothing of what people typed is in it."""

from __future__ import annotations

import io
import json
import logging

import pytest
from django.db import DatabaseError, IntegrityError
from django.http import HttpRequest, HttpResponse
from django.test import Client
from django.urls import path

from shop import urls
from shop.logs import JsonLines, Lines, without_values
from tests.factories import make_user

TYPED = {
    "customer": "Tamsin Orrell",
    "reason": "A shake at the heel, says 'Ferren'",
    "length": "530.25",
    "note": 'line one\nline two "quoted"',
    "password": "a-long-enough-one",
}


def _raise(request: HttpRequest, number: str) -> HttpResponse:
    """As deep in the program, with what was typed in every error's own words."""
    try:
        try:
            raise ValueError(f"no such number: {request.POST['length']}")
        except ValueError as error:
            raise KeyError(request.POST["customer"].upper()) from error
    except KeyError as error:
        values = ", ".join(request.POST.values())
        raise IntegrityError(f"Key (name)=({values}) already exists.\nDETAIL: {values}") from error


urlpatterns = [path("broken/<slug:number>/", _raise, name="broken"), *urls.urlpatterns]
handler400, handler403, handler404, handler500 = urls.handler400, urls.handler403, urls.handler404, urls.handler500


@pytest.fixture(params=[Lines, JsonLines])
def log(request: pytest.FixtureRequest) -> io.StringIO:
    """All that the log gets, in the one way of writing and in the other."""
    out = io.StringIO()
    handler = logging.StreamHandler(out)
    handler.setFormatter(request.param())
    loggers = [logging.getLogger(), logging.getLogger("shop.requests")]
    levels = [each.level for each in loggers]
    loggers[0].addHandler(handler)
    for each in loggers:
        each.setLevel(logging.DEBUG)
    yield out
    loggers[0].removeHandler(handler)
    for each, level in zip(loggers, levels, strict=True):
        each.setLevel(level)


@pytest.mark.urls(__name__)
@pytest.mark.django_db
def test_nothing_that_was_typed_lands_in_it(log: io.StringIO, settings) -> None:
    settings.ROOT_URLCONF = __name__
    client = Client(raise_request_exception=False)
    client.force_login(make_user("hollis", is_superuser=True, is_staff=True, role="owner"))
    assert client.post("/broken/F0001/?q=Tamsin+Orrell", TYPED).status_code == 500
    said = log.getvalue()
    # Enough to mend it: each error by its kind, and the lines that it went through.
    for word in ("ValueError", "KeyError", "IntegrityError", "test_logs.py", "in _raise", "no such number:"):
        assert word in said
    for value in (*TYPED.values(), "Tamsin", "TAMSIN", "Orrell", "Ferren", "530.25", "heel", "hollis", "F0001"):
        assert value not in said, value
    for line in TYPED["note"].splitlines():
        assert line not in said


@pytest.mark.django_db
def test_a_page_is_noted_by_name(log: io.StringIO) -> None:
    client = Client()
    client.force_login(make_user("hollis"))
    client.get("/find/?q=Tamsin+Orrell")
    client.get("/no-such-page/Orrell/")
    client.post("/sign-in/", {"username": "Orrell", "password": "Tamsin"})
    said = log.getvalue()
    assert "boards:find" in said and "no page of ours" in said and "sign-in" in said
    assert "Orrell" not in said and "Tamsin" not in said and "hollis" not in said


def test_json_is_one_object_a_line() -> None:
    record = logging.LogRecord(
        "shop.daily", logging.ERROR, "daily.py", 1, "The machine could not %s.\nAt all.", ("rest",), None
    )
    line = JsonLines().format(record)
    assert "\n" not in line
    said = json.loads(line)
    assert (said["level"], said["from"], said["message"]) == (
        "error",
        "shop.daily",
        "The machine could not rest.\nAt all.",
    )


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("UNIQUE constraint failed: shop_build.number", "UNIQUE constraint failed: shop_build.number"),
        ("invalid literal for int() with base 10: '12x'", "invalid literal for int() with base 10: …"),
        ('invalid input syntax for type integer: "a \\" b"', "invalid input syntax for type integer: …"),
        ("Key (name)=(Orrell (old)) already exists.", "Key (name)… already exists."),
        ("disk I/O error", "disk I/O error"),
    ],
)
def test_what_is_quoted_is_struck_out(text: str, left: str) -> None:
    assert without_values(text) == left


def test_values_are_struck_out_as_whole_words() -> None:
    assert without_values("12 of 120, ORRELL", frozenset({"12", "Orrell"})) == "… of 120, …"


def test_an_error_is_told_from_a_fault() -> None:
    from shop.faults import AWAY, BUSY, FULL, READ_ONLY, fault_of

    def sqlite(name: str) -> DatabaseError:
        cause = Exception()
        cause.sqlite_errorname = name
        error = DatabaseError("words")
        error.__cause__ = cause
        return error

    # https://sqlite.org/rescode.html: extended codes begin with the name of their primary one.
    assert fault_of(sqlite("SQLITE_BUSY_SNAPSHOT")) is BUSY
    assert fault_of(sqlite("SQLITE_FULL")) is FULL
    assert fault_of(sqlite("SQLITE_READONLY_DBMOVED")) is READ_ONLY
    assert fault_of(sqlite("SQLITE_CONSTRAINT_UNIQUE")) is None
    assert fault_of(DatabaseError("no such table")) is None
    assert fault_of(ValueError()) is None
    assert fault_of(None) is None
    assert fault_of(OSError(28, "No space left on device")) is FULL  # errno(3): ENOSPC is 28 on Linux
    # https://www.postgresql.org/docs/current/errcodes-appendix.html
    for state, fault in (
        ("57P01", AWAY),
        ("53100", FULL),
        ("53300", AWAY),
        ("55P03", BUSY),
        ("08006", AWAY),
        ("23505", None),
    ):
        cause = Exception()
        cause.sqlstate = state
        error = DatabaseError()
        error.__cause__ = cause
        assert fault_of(error) is fault, state
