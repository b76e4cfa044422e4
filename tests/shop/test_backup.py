"""Backups: what is in one, that each is whole, which are thinned out, what stands in the way of putting one back."""

from __future__ import annotations

import gzip
import hashlib
import io
import json
import tarfile
import uuid
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Event, Lock, Thread

import pytest
from django.contrib.sessions.models import Session
from django.db import connection
from django.test import Client
from django.utils import timezone

from boards import files
from boards.models import Blank, Photograph
from shop import serving
from shop.backup import archive, making
from shop.backup.archive import BrokenBackup, read_manifest, unpack
from shop.backup.databases import CannotCopy
from shop.backup.folder import backups, name_for, superfluous, thin_out
from shop.backup.making import check, make_backup
from shop.backup.restoring import NotRestored, _see_whether_it_fits
from shop.daily import NotDone
from shop.models import User
from tests.factories import make_blank, make_blanks, make_hand, make_user
from tests.postgres import a_database
from tests.shop.machine import manage

EmptyDatabase = Callable[[], dict[str, str]]

NOON = datetime(2026, 6, 15, 12, tzinfo=UTC)


class TestThinning:
    """With the usual 7 days, 5 weeks, 12 months, counted by hand."""

    KEPT = {"days": 7, "weeks": 5, "months": 12}

    def kept(self, made: list[datetime], **changes: int) -> list[datetime]:
        return sorted(set(made) - superfluous(made, **{**self.KEPT, **changes}), reverse=True)

    def test_a_year_of_daily_ones(self) -> None:
        made = [NOON - timedelta(days=day) for day in range(400)]
        days = [NOON - timedelta(days=day) for day in range(7)]
        # The newest of each week is its Sunday's; 15 June 2026 is a Monday. Days of that week and of the one before
        # are among the seven already.
        weeks = [
            NOON,
            *(datetime(2026, month, day, 12, tzinfo=UTC) for month, day in ((6, 14), (6, 7), (5, 31), (5, 24))),
        ]
        months = [
            NOON,
            *(
                datetime(year, month, day, 12, tzinfo=UTC)
                for year, month, day in (
                    (2026, 5, 31), (2026, 4, 30), (2026, 3, 31), (2026, 2, 28), (2026, 1, 31), (2025, 12, 31),
                    (2025, 11, 30), (2025, 10, 31), (2025, 9, 30), (2025, 8, 31), (2025, 7, 31),
                )
            ),
        ]  # fmt: skip
        assert self.kept(made) == sorted({*days, *weeks, *months}, reverse=True)

    def test_all_of_the_last_day_stay_and_the_newest_of_an_earlier_one(self) -> None:
        made = [NOON - timedelta(hours=hour) for hour in (0, 1, 5, 23, 30, 33, 40)]
        # In Lisbon that is four within 24 hours, of which the last is the newest of its day; then one the day before.
        assert self.kept(made) == [NOON - timedelta(hours=hour) for hour in (0, 1, 5, 23, 40)]

    def test_a_clock_that_ran_wild_costs_nothing(self) -> None:
        """One made in a year that is not yet, or a shop that was closed for three."""
        made = [NOON - timedelta(days=1200 + day) for day in range(5)]
        assert self.kept([NOON + timedelta(days=9000), *made]) == [NOON + timedelta(days=9000), *made]
        assert self.kept([NOON, *made]) == [NOON, *made]

    def test_the_newest_is_never_thinned_out(self) -> None:
        assert self.kept([NOON], weeks=0, months=0) == [NOON]

    def test_only_backups_are_touched(self, tmp_path: Path, settings) -> None:
        settings.BACKUPS_KEPT = (1, 0, 0)
        old, new = (tmp_path / name_for(NOON - timedelta(days=day)) for day in (3, 0))
        others = [
            tmp_path / "camberbook-2026.tar.gz",
            tmp_path / "letter.txt",
            tmp_path / "camberbook-99999999-999999.tar.gz",
        ]
        for file in (old, new, *others):
            file.write_bytes(b"x")
        assert thin_out(tmp_path) == [old]
        assert sorted(tmp_path.iterdir()) == sorted([new, *others])


@pytest.fixture
def data(tmp_path: Path, settings) -> Path:
    """A data folder of its own, for what people brought."""
    settings.DATA = tmp_path / "data"
    settings.BACKUPS = tmp_path / "backups"
    settings.DATA.mkdir()
    return settings.DATA


@pytest.fixture
def empty_database() -> Iterator[EmptyDatabase]:
    """Databases of the kind that the tests run on, for shops in other places: where SQLite is, in their own folders."""
    with ExitStack() as stack:
        yield lambda: {} if connection.vendor == "sqlite" else {"DATABASE_URL": stack.enter_context(a_database())}


@pytest.fixture
def photograph(data: Path, transactional_db: None) -> Photograph:
    content = b"\xff\xd8 a photograph"
    name = files.name_of(content, "jpg")
    files.keep(content, name)
    blank = make_blank()
    return Photograph.objects.create(
        blank=blank, file=name, width=10, height=10, at=timezone.now(), by=User.objects.first()
    )


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
class TestMaking:
    def test_everything_entered_is_in_it_and_nothing_else(self, data: Path, photograph: Photograph) -> None:
        (data / "secret-key").write_text("k" * 50)
        Client().force_login(photograph.by)
        assert Session.objects.exists()
        made = make_backup(timezone.now())
        assert made.file.stat().st_mode & 0o777 == 0o600
        assert [entry.name for entry in made.file.parent.iterdir()] == [made.name]  # nothing half-made beside it

        manifest = check(made.file, data / "check")
        assert manifest.counts["boards_blank"] == Blank.objects.count() == 1
        assert manifest.counts["boards_photograph"] == 1
        # A session's key is as good as a password, and a backup lies about on a stick.
        assert manifest.counts["django_session"] == 0
        assert "0001_initial" in manifest.migrations["boards"]
        assert manifest.files == [f"files/{photograph.file[:2]}/{photograph.file}"]
        assert archive.KEY not in manifest.members

        # As anybody would open it: tar and SHA-256 (FIPS 180-4) know nothing of us.
        with tarfile.open(made.file) as tar:
            content = tar.extractfile(manifest.files[0]).read()
            names = tar.getnames()
        assert names == [archive.MANIFEST, *manifest.members]
        assert hashlib.sha256(content).hexdigest() == manifest.members[manifest.files[0]].sha256
        assert content == b"\xff\xd8 a photograph"

    def test_no_session_is_left_in_the_bytes_of_the_copy(self, data: Path, photograph: Photograph) -> None:
        if connection.vendor != "sqlite":
            return  # pg_dump leaves the rows of that table out
        client = Client()
        client.force_login(photograph.by)
        made = make_backup(timezone.now())
        unpack(made.file, data / "here")
        assert client.session.session_key.encode() not in (data / "here" / archive.SQLITE).read_bytes()

    def test_the_key_goes_along_only_when_asked_for(self, data: Path, photograph: Photograph) -> None:
        (data / "secret-key").write_text("k" * 50)
        made = make_backup(timezone.now(), with_key=True)
        unpack(made.file, data / "here")
        assert (data / "here" / "secret-key").read_text() == "k" * 50

    def test_a_photograph_that_is_taken_away_meanwhile(self, data: Path, photograph: Photograph, monkeypatch) -> None:
        """The first copy would lack a file that its database speaks of; the second speaks of none."""
        copies = []

        def copy_and_lose(place: Path, copy=making.copy):
            copied = copy(place)
            copies.append(place)
            if len(copies) == 1:
                Photograph.objects.all().delete()
                files.forget(photograph.file)
            return copied

        monkeypatch.setattr(making, "copy", copy_and_lose)
        manifest = read_manifest(make_backup(timezone.now()).file)
        assert len(copies) == 2
        assert (manifest.counts["boards_photograph"], manifest.files) == (0, [])

    def test_what_was_broken_off_is_swept_up(self, data: Path, photograph: Photograph, settings) -> None:
        settings.BACKUPS.mkdir()
        left = settings.BACKUPS / f"{making._prefix()}abc"
        left.mkdir()
        (left / "backup.tar.gz").write_bytes(b"half")
        other = settings.BACKUPS / ".part-00000000-of-another-shop"
        other.mkdir()
        make_backup(timezone.now())
        assert not left.exists() and other.exists()

    def test_no_room(self, data: Path, photograph: Photograph, monkeypatch, settings) -> None:
        monkeypatch.setattr(making, "SPARE", 2**60)
        with pytest.raises(NotDone, match=r"There is no room for a backup in .*: \d+ MB are free"):
            make_backup(timezone.now())
        assert list(settings.BACKUPS.iterdir()) == []

    def test_a_folder_that_is_none(self, data: Path, photograph: Photograph, tmp_path: Path) -> None:
        (tmp_path / "file").write_text("")
        with pytest.raises(NotDone, match="cannot be used"):
            make_backup(timezone.now(), tmp_path / "file")

    def test_a_copy_that_is_damaged_never_gets_the_name_of_a_backup(
        self, data: Path, photograph: Photograph, monkeypatch, settings
    ) -> None:
        def write_and_damage(out, manifest, places, write=archive.write):
            write(out, manifest, places)
            out.seek(out.tell() // 2)
            out.write(b"\x00\x01\x02\x03" * 8)
            out.seek(0, 2)

        monkeypatch.setattr(archive, "write", write_and_damage)
        with pytest.raises(NotDone):
            make_backup(timezone.now())
        assert list(settings.BACKUPS.iterdir()) == []


ONE = {"size": 1, "sha256": "0"}


def repacked(file: Path, to: Path, change) -> Path:
    """Write an archive anew with its manifest and members changed, as somebody who means harm could."""
    with tarfile.open(file) as tar:
        members = {info.name: tar.extractfile(info).read() for info in tar}
    manifest = json.loads(members.pop(archive.MANIFEST))
    change(manifest, members)
    with tarfile.open(to, "w:gz") as tar:
        for name, content in {archive.MANIFEST: json.dumps(manifest).encode(), **members}.items():
            info = tarfile.TarInfo(name)
            info.size = len(content)
            tar.addfile(info, io.BytesIO(content))
    return to


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
class TestBrokenOnes:
    @pytest.fixture
    def good(self, data: Path, photograph: Photograph) -> Path:
        return make_backup(timezone.now()).file

    def test_every_cut_and_every_flipped_byte_is_seen(self, good: Path, tmp_path: Path) -> None:
        content = good.read_bytes()
        bad = tmp_path / "bad.tar.gz"
        for part in range(20):
            # Behind gzip's header, which names a file of up to 255 letters; up to the last byte.
            place = 300 + part * (len(content) - 301) // 19
            for damaged in (content[:place], content[:place] + bytes([content[place] ^ 0x55]) + content[place + 1 :]):
                bad.write_bytes(damaged)
                with pytest.raises((BrokenBackup, CannotCopy)):
                    check(bad, tmp_path / f"check-{uuid.uuid4()}")

    @pytest.mark.parametrize(
        ("change", "words"),
        [
            (lambda said, _: said.update(backup_of="Elsewhere"), "a backup of something else"),
            (lambda said, _: said.update(format=99), "newer release"),
            (lambda said, _: said.pop("counts"), "does not say of itself"),
            (lambda said, _: said.update(members=[]), "does not say of itself"),
            (lambda said, _: said.update(made_at="noon"), "does not say of itself"),
            (lambda said, members: members.update({"../outside": b"x"}), "does not speak of"),
            (lambda said, _: said["members"].update({"../outside": ONE}), "not what a backup holds"),
            (lambda said, _: said["members"].update({"/etc/passwd": ONE}), "not what a backup holds"),
            (lambda said, _: said["members"].update({f"files/ab/{'0' * 64}.jpg": ONE}), "missing"),
            (lambda said, members: members.update({[*members][-1]: b"other"}), "its checksum is another one"),
        ],
    )  # fmt: skip
    def test_what_somebody_changed(self, good: Path, tmp_path: Path, change, words: str) -> None:
        bad = repacked(good, tmp_path / "bad.tar.gz", change)
        with pytest.raises(BrokenBackup, match=words):
            unpack(bad, tmp_path / "here")
        assert not (tmp_path / "outside").exists()

    def test_a_link_in_the_place_of_a_file(self, good: Path, tmp_path: Path) -> None:
        with tarfile.open(good) as tar:
            manifest = tar.extractfile(archive.MANIFEST).read()
        bad = tmp_path / "bad.tar.gz"
        with tarfile.open(bad, "w:gz") as tar:
            info = tarfile.TarInfo(archive.MANIFEST)
            info.size = len(manifest)
            tar.addfile(info, io.BytesIO(manifest))
            link = tarfile.TarInfo([*json.loads(manifest)["members"]][0])
            link.type, link.linkname = tarfile.SYMTYPE, "/etc/passwd"
            tar.addfile(link)
        with pytest.raises(BrokenBackup, match="does not speak of"):
            unpack(bad, tmp_path / "here")

    @pytest.mark.parametrize("content", [b"", b"a letter", gzip.compress(b"a letter"), gzip.compress(b"\0" * 10240)])
    def test_what_is_no_backup(self, tmp_path: Path, content: bytes) -> None:
        (tmp_path / "bad").write_bytes(content)
        with pytest.raises(BrokenBackup):
            read_manifest(tmp_path / "bad")

    def test_of_a_newer_release_or_another_kind_of_database(self, good: Path) -> None:
        manifest = read_manifest(good)
        _see_whether_it_fits(manifest)
        manifest.migrations["boards"].append("9999_next_year")
        with pytest.raises(NotRestored, match=r"boards\.9999_next_year is not known here"):
            _see_whether_it_fits(manifest)
        manifest.migrations["boards"].pop()
        manifest.migrations["an app that is gone"] = ["0001_initial"]
        _see_whether_it_fits(manifest)


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_there_and_back(data: Path, photograph: Photograph, tmp_path: Path, empty_database: EmptyDatabase) -> None:
    """With the commands as people type them: into an empty place, refused over a shop, moved aside when told to."""
    made = make_backup(timezone.now())
    place = tmp_path / "place"
    where = empty_database()
    said = manage(place, "restore", str(made.file), **where)
    assert "1 blanks stand where their logs say." in said and "1 photographs and papers are back" in said
    kept = place / "files" / photograph.file[:2] / photograph.file
    assert kept.read_bytes() == b"\xff\xd8 a photograph"

    manage(place, "shell", "-c", "from shop.models import User; User.objects.update(first_name='Zelda')", **where)
    refused = manage(place, "restore", str(made.file), fails=True, **where)
    assert "There is a shop here already: people, builds or blanks in the database and photographs" in refused
    count = "from shop.models import User; print(User.objects.filter(first_name='Zelda').count())"
    assert manage(place, "shell", "-v0", "-c", count, **where).strip() == "1"

    with serving.serving(place):
        assert "is being served" in manage(place, "restore", str(made.file), "--over", fails=True, **where)
    key = (place / "secret-key").read_text()
    said = manage(place, "restore", str(made.file), "--over", **where)
    assert manage(place, "shell", "-v0", "-c", count, **where).strip() == "0"
    assert (place / "secret-key").read_text() == key
    (aside,) = place.glob("before-restore-*")
    assert f"What was here lies in {aside}." in said
    assert (aside / "files" / photograph.file[:2] / photograph.file).is_file()
    if connection.vendor == "sqlite":
        assert (aside / "camberbook.sqlite3").stat().st_size > 100_000
    assert not list(place.glob(".restore-*"))


class Maker(Thread):
    """Somebody who holds a blank and lets it go on, over and over, and knows what was acknowledged."""

    def __init__(self, blank: Blank, hand, stop: Event) -> None:
        super().__init__()
        self.blank, self.hand, self.stop, self.lock = blank, hand, stop, Lock()
        self.asked: list[uuid.UUID] = []
        self.acknowledged = 0

    def run(self) -> None:
        try:
            while not self.stop.is_set():
                self.asked.append(uuid.uuid4())
                hand = make_hand(self.hand.by, request_id=self.asked[-1])
                if len(self.asked) % 2:
                    self.blank.hold(hand, self.blank.version, "A shake")
                else:
                    self.blank.release(hand, self.blank.version)
                self.acknowledged = len(self.asked)
        finally:
            connection.close()


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_what_is_restored_is_the_log_up_to_one_moment(
    data: Path, tmp_path: Path, empty_database: EmptyDatabase
) -> None:
    """Three people work on while backups are made, each of them put back and held against what was acknowledged.

    Of each person's presses, which are made one after the other, a copy has the first so many: all that were
    acknowledged before the backup began, and none that was asked for after it ended.
    """
    hand = make_hand(make_user("maker"))
    stop = Event()
    makers = [Maker(blank, hand, stop) for blank in make_blanks(3, hand=hand)]
    for maker in makers:
        maker.start()
    taken = []
    for number in range(3):
        while min(maker.acknowledged for maker in makers) < 4 * (number + 1):
            assert all(maker.is_alive() for maker in makers)
            stop.wait(0.02)
        began = [maker.acknowledged for maker in makers]
        made = make_backup(NOON + timedelta(minutes=number))
        taken.append((made, began, [len(maker.asked) for maker in makers]))
    stop.set()
    for maker in makers:
        maker.join()

    ask = (
        "import json; from boards.models import LogEntry; "
        "print(json.dumps([str(tap) for tap in LogEntry.objects.exclude(request_id=None).order_by('pk')"
        ".values_list('request_id', flat=True)]))"
    )
    for number, (made, began, ended) in enumerate(taken):
        place = tmp_path / f"place-{number}"
        where = empty_database()
        assert "3 blanks stand where their logs say." in manage(place, "restore", str(made.file), **where)
        kept = json.loads(manage(place, "shell", "-v0", "-c", ask, **where))
        for maker, first, last in zip(makers, began, ended, strict=True):
            own = [tap for tap in kept if uuid.UUID(tap) in set(maker.asked)]
            assert own == [str(tap) for tap in maker.asked[: len(own)]]
            assert first <= len(own) <= last
        assert len(kept) == len(set(kept))
    assert taken[-1][1] > taken[0][1]  # they did work on meanwhile


@pytest.mark.django_db(transaction=True, serialized_rollback=True)
def test_the_command_says_where_it_is(data: Path, tmp_path: Path, empty_database: EmptyDatabase) -> None:
    place = tmp_path / "place"
    where = empty_database()
    manage(place, "migrate", "-v0", **where)
    said = manage(place, "backup", str(tmp_path / "stick"), **where)
    (made,) = backups(tmp_path / "stick")
    assert said.startswith(f"{made.file}: ") and "checked." in said
    (tmp_path / "file").write_text("")
    assert "No backup was made." in manage(place, "backup", str(tmp_path / "file"), fails=True, **where)
