"""What is done once a day: once, by whoever comes first, again after a failure, and said where it was not."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Barrier, Thread

import pytest
from django.db import connection
from django.test import Client
from django.utils import timezone

from boards import files
from boards.chores import _sweep_files
from shop import daily
from shop.backup.folder import name_for
from shop.chores import BACKUP
from shop.daily import NotDone, do_due
from shop.models import DailyJob, User
from tests.factories import make_user, tap

NOON = datetime(2026, 6, 15, 12, tzinfo=UTC)
LATER = timedelta(hours=1)


@pytest.fixture
def done(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[datetime]]:
    """One job, and when it was done."""
    times: list[datetime] = []
    monkeypatch.setattr(daily, "_jobs", {})
    daily.daily("oil", "oil the machine", times.append)
    return times


@pytest.mark.django_db
class TestOnceADay:
    def test_once(self, done: list[datetime]) -> None:
        for hours in (0, 1, 10, 11, 24):  # where the tests play, in Lisbon's summer, the eleventh begins a new day
            do_due(lambda hours=hours: NOON + hours * LATER)
        assert done == [NOON, NOON + 11 * LATER]

    def test_at_once_and_when_asked_for(self, done: list[datetime]) -> None:
        do_due(lambda: NOON)
        assert do_due(lambda: NOON + LATER) == {}
        do_due(lambda: NOON + LATER, at_once=True)
        DailyJob.ask_for("oil", NOON)
        assert DailyJob.objects.get().is_wanted(NOON)
        do_due(lambda: NOON + 2 * LATER)
        do_due(lambda: NOON + 3 * LATER)
        assert done == [NOON, NOON + LATER, NOON + 2 * LATER]
        assert not DailyJob.objects.get().is_wanted(NOON)

    def test_what_fails_is_said_logged_and_tried_again(
        self, done: list[datetime], caplog: pytest.LogCaptureFixture
    ) -> None:
        def fail(now: datetime) -> None:
            raise NotDone("There is no oil.")

        def break_down(now: datetime) -> None:
            raise ZeroDivisionError

        daily.daily("oil", "oil the machine", fail)
        daily.daily("sweep", "sweep the floor", break_down)
        with caplog.at_level(logging.ERROR):
            said = do_due(lambda: NOON)
        assert said == {"oil": "There is no oil.", "sweep": "Something failed; what it was stands in the log."}
        assert "The machine could not oil the machine: There is no oil." in caplog.text
        assert "ZeroDivisionError" in caplog.text
        assert [(words, job.trouble) for words, job in daily.troubles()] == [
            ("oil the machine", "There is no oil."),
            ("sweep the floor", "Something failed; what it was stands in the log."),
        ]
        daily.daily("oil", "oil the machine", done.append)
        assert do_due(lambda: NOON + LATER / 2) == {}
        assert do_due(lambda: NOON + LATER)["oil"] == ""
        assert [words for words, _ in daily.troubles()] == ["sweep the floor"]

    def test_one_that_was_broken_off_is_taken_up_again(self, done: list[datetime]) -> None:
        assert DailyJob.take_turn("oil", NOON) is not None
        assert DailyJob.take_turn("oil", NOON + LATER / 2) is None
        assert DailyJob.take_turn("oil", NOON + LATER) is not None

    def test_a_clock_that_is_set_back_holds_nothing_up(self, done: list[datetime]) -> None:
        ahead = NOON + timedelta(days=400)
        do_due(lambda: ahead)
        DailyJob.take_turn("oil", ahead + timedelta(days=1))  # and one that was broken off
        do_due(lambda: NOON)
        assert done == [ahead, NOON]


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_of_several_processes_one_does_it(done: list[datetime]) -> None:
    DailyJob.objects.create(name="oil")
    at_once = Barrier(4)

    def come() -> None:
        at_once.wait()
        do_due(lambda: NOON)
        connection.close()

    comers = [Thread(target=come) for _ in range(4)]
    for comer in comers:
        comer.start()
    for comer in comers:
        comer.join()
    assert done == [NOON]


def test_half_written_files_are_swept_up(tmp_path: Path, settings) -> None:
    settings.DATA = tmp_path
    content = b"a photograph"
    name = files.name_of(content, "jpg")
    files.keep(content, name)
    half = tmp_path / "files" / name[:2] / "tmpabc"
    half.write_bytes(b"a phot")
    _sweep_files(timezone.now())
    assert half.exists()  # it may be about to be given its name
    _sweep_files(timezone.now() + timedelta(hours=2))
    assert not half.exists() and files.place_of(name).exists()


@pytest.mark.django_db
class TestPages:
    @pytest.fixture(autouse=True)
    def folder(self, tmp_path: Path, settings) -> Path:
        settings.BACKUPS = tmp_path
        return tmp_path

    def make(self, folder: Path, days: float) -> str:
        name = name_for(timezone.now() - timedelta(days=days))
        (folder / name).write_bytes(b"a backup")
        return name

    def test_none_yet(self, other_bench: Client) -> None:
        assert "There is none yet." in other_bench.get("/kit/backups/").text

    def test_the_last_good_one(self, other_bench: Client, folder: Path) -> None:
        old, new = self.make(folder, 30), self.make(folder, 1.5)
        page = other_bench.get("/kit/backups/").text
        assert "36 hours" in page and str(folder) in page and old in page
        assert "They lie on the same disk" in page
        answer = other_bench.get(f"/kit/backups/{new}")
        assert b"".join(answer.streaming_content) == b"a backup"
        assert new in answer["Content-Disposition"] and answer["Cache-Control"] == "no-store"

    @pytest.mark.parametrize("name", ["secret-key", "..%2Fsecret-key", "camberbook-20260101-000000.tar.gz"])
    def test_what_is_none(self, other_bench: Client, folder: Path, name: str) -> None:
        (folder / "secret-key").write_text("k")
        assert other_bench.get(f"/kit/backups/{name}").status_code == 404

    def test_one_is_asked_for(self, other_bench: Client) -> None:
        form = tap()
        assert other_bench.post("/kit/backups/now/", form).status_code == 302
        assert DailyJob.objects.get(name=BACKUP).asked_at is not None
        assert "A backup was asked for at" in other_bench.get("/kit/backups/").text

    def test_makers_neither_take_it_nor_have_it_made(self, bench: Client, folder: Path) -> None:
        name = self.make(folder, 0)
        assert bench.get(f"/kit/backups/{name}").status_code == 403
        assert bench.post("/kit/backups/now/", tap()).status_code == 403

    def test_today_warns_in_one_line(self, bench: Client, folder: Path) -> None:
        assert "<b>Backup</b>" not in bench.get("/").text  # nobody has worked here for long
        User.objects.update(date_joined=timezone.now() - timedelta(days=3))
        assert "There is no backup yet." in bench.get("/").text
        self.make(folder, 2.5)
        assert "The last backup is 2 days old." in bench.get("/").text
        self.make(folder, 1.9)
        assert "The last backup" not in bench.get("/").text
        DailyJob.objects.create(name=BACKUP, trouble="There is no room.", failed_at=timezone.now())
        assert "The machine could not make a backup: There is no room." in bench.get("/").text

    def test_a_folder_that_is_away(self, other_bench: Client, settings, tmp_path: Path) -> None:
        settings.BACKUPS = tmp_path / "stick"
        assert other_bench.get("/kit/backups/").status_code == 200


@pytest.mark.django_db
def test_sessions_that_have_ended_go_and_others_stay(db: None) -> None:
    from django.contrib.sessions.models import Session

    from shop.chores import _clear_sessions

    Client().force_login(make_user("one"))
    client = Client()
    client.force_login(make_user("two"))
    Session.objects.exclude(pk=client.session.session_key).update(expire_date=timezone.now() - timedelta(days=1))
    _clear_sessions(timezone.now())
    assert [session.pk for session in Session.objects.all()] == [client.session.session_key]
