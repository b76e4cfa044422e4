"""`manage.py check_log`: the proof that the columns of a blank follow from its log."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from boards.models import Blank, LogEntry
from tests.factories import make_blank, make_build, make_pattern

pytestmark = pytest.mark.django_db


def check() -> tuple[str, str]:
    out, err = StringIO(), StringIO()
    try:
        call_command("check_log", stdout=out, stderr=err)
    except CommandError as error:
        return out.getvalue(), err.getvalue() + str(error)
    return out.getvalue(), err.getvalue()


def test_it_works() -> None:
    make_blank()
    make_blank(make_build(), done=3)
    make_blank(make_pattern(), done=5)
    assert check() == ("3 blanks stand where their logs say.\n", "")


@pytest.mark.parametrize(
    ("column", "value", "words"),
    [
        ("condition", "held", "condition is held, its log says active"),
        ("done", ["thicknessing"], "done is ('thicknessing',), its log says ('thicknessing', 'slotting')"),
        ("stages", [], "stages is ()"),
        ("next_stage", "gluing", "next_stage is gluing, its log says radiusing"),
        ("version", 9, "its version is 9, its log has 4 entries"),
        ("build", None, "build_id is None"),
    ],
)
def test_a_column_that_was_changed_by_hand_is_found(column: str, value: object, words: str) -> None:
    good, bad = make_blank(make_pattern(), done=1), make_blank(make_build(), done=2)
    Blank.objects.filter(pk=bad.pk).update(**{column: value})
    out, err = check()
    assert out == ""
    assert f"{bad.number}: {words}" in err
    assert good.number not in err


def test_a_log_that_was_cut_is_found() -> None:
    blank = make_blank(make_build(), done=2)
    with connection.cursor() as cursor:  # past the models, which refuse
        cursor.execute(f"DELETE FROM {LogEntry._meta.db_table} WHERE blank_id = %s AND number = 2", [blank.pk])
    assert f"{blank.number}: its log has the entries 1, 3, 4; some are missing" in check()[1]


def test_a_log_that_makes_no_sense_is_found() -> None:
    blank = make_blank(make_build(), done=2)
    table = LogEntry._meta.db_table
    with connection.cursor() as cursor:
        cursor.execute(
            f"UPDATE {table} SET kind = 'reworked', stage = 'gluing' WHERE blank_id = %s AND number = 4", [blank.pk]
        )
    assert f"{blank.number}: its log cannot be followed" in check()[1]
