"""`manage.py doctor`, and the address that says whether the machine is well."""

from __future__ import annotations

import io
import os
import shutil
from collections import namedtuple
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db import OperationalError
from django.test import Client
from django.utils import timezone

from boards import health as boards_health
from boards.models import Blank, LogEntry
from boards.printing import PrintingFailed
from shop import health
from shop.backup.folder import name_for
from shop.backup.making import make_backup
from shop.models import DailyJob
from tests.factories import make_blank, make_hand


@pytest.fixture
def data(tmp_path: Path, settings) -> Path:
    settings.DATA = tmp_path / "data"
    settings.BACKUPS = tmp_path / "backups"
    settings.DATA.mkdir(mode=0o700)
    return settings.DATA


def wrong(look=health.findings, **later: float) -> dict[str, str]:
    """Give what is wrong: what it is about, and the words."""
    return {found.what: found.words for found in look(timezone.now() + timedelta(**later)) if found.wrong}


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
class TestDoctor:
    def test_all_is_well(self, data: Path) -> None:
        make_blank()
        make_backup(timezone.now())
        out = io.StringIO()
        call_command("doctor", stdout=out)
        said = out.getvalue()
        assert said.splitlines()[-1] == "All is well." and "WRONG" not in said
        for what in (
            "Versions",
            "Data folder",
            "Disk",
            "Migrations",
            "Last backup",
            "Fonts",
            "Clock",
            "Log",
            "Printing",
        ):
            assert f"good   {what}: " in said
        assert "1 blanks, those that changed last, stand where their logs say." in said

    def test_it_ends_with_1_and_says_what(self, data: Path) -> None:
        out = io.StringIO()
        with pytest.raises(SystemExit) as end:
            call_command("doctor", stdout=out)
        assert end.value.code == 1
        assert f"WRONG  Backups: There is none in {data.parent / 'backups'}." in out.getvalue()
        assert out.getvalue().splitlines()[-1] == "One thing is to be seen to."

    def test_a_backup_that_is_old_or_damaged(self, data: Path, settings) -> None:
        make_backup(timezone.now())
        assert wrong(days=1.9) == {}
        assert "The last of 1 is 2 days old" in wrong(days=2.1)["Backups"]
        later = settings.BACKUPS / name_for(timezone.now() + timedelta(minutes=1))
        later.write_bytes(b"no backup")
        found = wrong()
        assert str(later) in found["Last backup"] and "damaged, or it is no backup" in found["Last backup"]
        assert "which is still to come" in found["Clock"]

    def test_the_folder_the_disk_and_what_was_not_done(self, data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        make_backup(timezone.now())
        DailyJob.objects.create(name="presses", trouble="The floor is wet.")
        data.chmod(0o755)
        usage = namedtuple("usage", "total used free")
        monkeypatch.setattr(shutil, "disk_usage", lambda place: usage(2**30, 2**30 - 2**20, 2**20))
        found = wrong()
        assert found["Daily"].endswith("forget presses of long ago: The floor is wet.")
        assert found["Disk"] == "0.0 GB are free where the data lies."
        if os.name != "nt":
            assert "can be looked into by other users" in found["Data folder"]

    def test_the_log_the_clock_and_printing(self, data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        blank = make_blank()
        assert wrong(boards_health.findings) == {}
        Blank.objects.filter(pk=blank.pk).update(condition="held")
        assert f"first: {blank.number}: condition is held, its log says active" in wrong(boards_health.findings)["Log"]
        assert "the newest entry in the log was made at" in wrong(boards_health.findings, hours=-1)["Clock"]

        def fail(*_: object) -> None:
            raise PrintingFailed("Printing broke off. Try again.")

        monkeypatch.setattr(boards_health, "print_pdf", fail)
        assert wrong(boards_health.findings)["Printing"] == "Printing broke off. Try again."
        monkeypatch.setattr(boards_health.pango, "printing_available", lambda: False)
        assert wrong(boards_health.findings)["Printing"].startswith("off.")

    def test_a_database_that_cannot_be_used(self, data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        def fail(*_: object) -> None:
            raise OperationalError("disk I/O error")

        monkeypatch.setattr(LogEntry.objects, "order_by", fail)
        out = io.StringIO()
        make_backup(timezone.now())
        with pytest.raises(SystemExit):
            call_command("doctor", stdout=out)
        assert "WRONG  Database: it cannot be used: disk I/O error" in out.getvalue()


@pytest.mark.django_db
class TestHealth:
    def test_it_is_cheap_and_open_and_tells_nothing(self, client: Client, django_assert_num_queries) -> None:
        make_blank(hand=make_hand())
        with django_assert_num_queries(1):
            answer = client.get("/health/")
        assert (answer.status_code, answer.text) == (200, "ok\n")
        assert "no-store" in answer["Cache-Control"] and not answer.cookies
        assert client.head("/health/").status_code == 200
        assert client.post("/health/").status_code == 405

    def test_a_database_that_is_away(self, client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
        def fail() -> None:
            raise OperationalError("could not connect to server: secret-host")

        monkeypatch.setattr(health.Shop.objects, "exists", fail)
        answer = client.get("/health/")
        assert (answer.status_code, answer.text) == (503, "The database cannot be used.\n")

    def test_it_needs_no_certificate(self, client: Client, settings) -> None:
        settings.SECURE_SSL_REDIRECT = True
        assert client.get("/").status_code == 301
        assert client.get("/health/").status_code == 200
