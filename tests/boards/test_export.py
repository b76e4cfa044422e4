"""What the shop entered can be taken away: all of it, explained, harmless to spreadsheets, however much it is."""

import csv
import io
import re
import tracemalloc
import zipfile
from decimal import Decimal
from random import Random

import pytest
from django.db import connection, models
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from hypothesis import given
from hypothesis import strategies as st

from boards import demo
from boards.models import Blank, LogEntry, StockFile
from boards.tables.cells import Marks, as_it_was, harmless, is_risky
from boards.tables.files import Way, heads, write_csv
from boards.tables.of_models import fields_of
from boards.tables.registry import LEFT_OUT, our_models, table_named, tables
from shop.models import Lengths, Shop, Tablet, Tap, Tries, User
from tests.factories import make_blank, make_blanks, make_build, make_hand, make_species, make_user, tap

pytestmark = pytest.mark.django_db

PLAIN = Way(Marks(bom=False))


def rows_of(name: str, way: Way = PLAIN) -> list[dict[str, str]]:
    """A table as another program reads it."""
    text = b"".join(write_csv(table_named(name), way)).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline=""), delimiter=way.marks.delimiter))


def body(answer) -> bytes:
    return b"".join(answer.streaming_content)


def archive_of(client: Client, query: str = "") -> dict[str, bytes]:
    answer = client.get(f"/export/camberbook.zip{query}")
    assert answer.status_code == 200 and answer["Content-Type"] == "application/zip"
    with zipfile.ZipFile(io.BytesIO(body(answer))) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name) for name in archive.namelist()}


def test_it_works(bench: Client) -> None:
    build = make_build("B901")
    blank = make_blank(build, done=2, thickness=Decimal("8.4375"))
    files = archive_of(bench)
    assert {"README.txt", "blanks.csv", "log.csv", "readings.csv", "builds.csv", "habits.csv", "cutters.csv"} <= set(
        files
    )
    (row,) = rows_of("blanks")
    assert (row["number"], row["species"], row["build"]) == (blank.number, "Pear, steamed", "B901")
    assert row["thickness_mm"] == "8.4375" and row["received_on"] == blank.received_on.isoformat()
    kinds = [row["kind"] for row in rows_of("log")]
    assert kinds == ["received", "assigned", "finished", "finished"]
    readings = rows_of("readings")
    assert readings and {row["stage"] for row in readings} == {"thicknessing", "slotting"}
    assert all(Decimal(row["value_mm"]) > 0 and row["blank"] == blank.number for row in readings)


def test_nobody_takes_anything_without_signing_in(client: Client, maker: User) -> None:
    for page in ("/export/", "/export/camberbook.zip", "/export/blanks.csv"):
        answer = client.get(page)
        assert answer.status_code == 302 and answer["Location"].startswith("/sign-in/")


def test_every_table_and_every_column_is_explained(bench: Client) -> None:
    page = bench.get("/export/").content.decode()
    words = archive_of(bench)["README.txt"].decode()
    assert len({table.name for table in tables()}) == len(tables())
    for table in tables():
        assert re.fullmatch(r"[a-z_]+", table.name)
        assert (
            table.about.endswith(".")
            and f"{table.name}.csv" in words
            and f">{table.name}<" in page
            and table.about.split()[0] in page
        ), table.name
        assert len({column.name for column in table.columns}) == len(table.columns), table.name
        for column in table.columns:
            assert column.about.strip().endswith("."), f"{table.name}.{column.name} says nothing"
            assert f"  {column.name}  ({column.kind.value})  {column.about}" in words


def test_every_model_of_ours_is_in_it_with_every_field() -> None:
    """A table or a field that somebody adds is written out, or left out on purpose."""
    written = {table.name: {column.name.removesuffix("_mm") for column in table.columns} for table in tables()}
    left_out = {Tap: None, User: {"password", "last_login", "is_superuser", "is_staff", "email", "date_joined",
                "pin", "version"}, Tries: None, Tablet: {"secret"},
                StockFile: {"content", "rows_left_out", "reading", "woods"}}  # fmt: skip
    assert {Tap, Tries} <= LEFT_OUT
    names = {table.about: table.name for table in tables()}
    assert len(names) == len(tables())
    for model in our_models():
        fields = {field.name.removesuffix("_mm") for field in fields_of(model)}
        fields -= left_out.get(model, set()) | ({"id"} if model is User else set())
        assert any(fields <= columns for columns in written.values()), model
        binary = [field.name for field in model._meta.concrete_fields if isinstance(field, models.BinaryField)]
        assert set(binary) <= (left_out.get(model) or set()), f"{model} keeps something that no table can hold"


def test_no_password_and_no_session_leaves_the_house(bench: Client, maker: User) -> None:
    bench.get("/")
    everything = b"".join(archive_of(bench).values())
    assert maker.password.encode() not in everything and b"pbkdf2" not in everything and b"md5$" not in everything
    assert bench.session.session_key.encode() not in everything
    assert b"maker" in everything


def test_the_demo_goes_out_whole(bench: Client) -> None:
    User.objects.all().delete()
    demo.load(now=timezone.now(), random=Random(3))
    owner = Client()
    owner.force_login(User.objects.get(is_superuser=True))
    files = archive_of(owner)
    assert len(files) == len(tables()) + 1
    for table in tables():
        records = list(csv.reader(io.StringIO(files[f"{table.name}.csv"].decode("utf-8-sig"), newline="")))
        assert records[0] == heads(table, Way())
        assert {len(record) for record in records} == {len(table.columns)}
    assert files["log.csv"].count(b"\r\n") - 1 == LogEntry.objects.count()


# How it is written


def test_the_mark_at_the_beginning_and_the_marks_between(bench: Client) -> None:
    make_blanks(1, thickness=Decimal("8.5"))
    for way, bom, delimiter, figure in (
        ("comma", True, ",", "8.5"),
        ("semicolon", True, ";", "8,5"),
        ("plain", False, ",", "8.5"),
        ("nonsense", True, ",", "8.5"),
    ):
        content = body(bench.get(f"/export/blanks.csv?way={way}"))
        assert content.startswith(b"\xef\xbb\xbf") is bom
        (row,) = csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline=""), delimiter=delimiter)
        assert row["thickness_mm"] == figure
    assert bench.get("/export/passwords.csv").status_code == 404


@pytest.mark.parametrize(
    ("lengths", "wanted"),
    [(Lengths.INCH_DECIMAL, "20.5"), (Lengths.INCH_FRACTION, "20 1/2 in"), (Lengths.MM, None)],
)
def test_lengths_in_the_shops_unit_besides(bench: Client, shop: Shop, lengths: str, wanted: str | None) -> None:
    Shop.objects.update(lengths=lengths)
    make_blanks(1, length=Decimal("520.7"))
    content = body(bench.get("/export/blanks.csv?way=plain&own=yes")).decode()
    (row,) = csv.DictReader(io.StringIO(content, newline=""))
    assert row["length_mm"] == "520.7" and row.get("length_in") == wanted


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "\u00a0=1", "'=1", "''=1", "\"=1", "＝1", "＋1",
     "－1", "＠x", "\ufeff=1", "\u200b=1", "'\t=x", "=cmd|' /C calc'!A0", "−1"],
)  # fmt: skip
def test_what_a_spreadsheet_would_carry_out_is_made_harmless(text: str) -> None:
    # The list of beginnings: OWASP, "CSV Injection"; full-width forms: Unicode, block Halfwidth and Fullwidth Forms.
    assert is_risky(text) and harmless(text) == f"'{text}" and as_it_was(harmless(text)) == text


@pytest.mark.parametrize("text", ["", "a=1", "'", "''", "Pear - steamed", "8.5", "'quoted'", "O'Hara", "é", "   "])
def test_what_is_harmless_stays(text: str) -> None:
    assert harmless(text) == text and as_it_was(text) == text


anything = st.text(
    st.one_of(st.sampled_from("=+-@\t\r\n'\" ,;＝＋\ufeff\u200b"), st.characters(exclude_categories=["Cs"]))
)


@given(anything)
def test_every_text_comes_back_as_it_was(text: str) -> None:
    written = harmless(text)
    assert as_it_was(written) == text
    assert not written or written[0] not in "=+-@\t\r＝＋－＠"


def test_numbers_stay_numbers_and_texts_that_look_like_some_do_not() -> None:
    make_blanks(1, lot="-12", supplier="=1+1", place="@wall", moisture=Decimal("7.5"))
    (row,) = rows_of("blanks")
    assert (row["lot"], row["supplier"], row["place"], row["moisture"]) == ("'-12", "'=1+1", "'@wall", "7.5")


# However much it is


def fill(blanks: int) -> None:
    """Blanks with many entries each, written straight into the database."""
    user = User.objects.filter(username="maker").first() or make_user()
    hand, now = make_hand(user), timezone.now()
    made = make_blanks(blanks, hand=hand, species=make_species("Ash"))
    LogEntry.objects.bulk_create(
        [
            LogEntry(blank=blank, number=number, at=now, by=user, kind="held", reason="A shake, seen under the lamp")
            for blank in made
            for number in range(2, 42)
        ],
        batch_size=1000,
    )


def test_a_table_costs_the_same_queries_and_memory_at_any_length(bench: Client) -> None:
    def cost() -> tuple[dict[str, int], int, int]:
        queries = {}
        for table in tables():
            with CaptureQueriesContext(connection) as captured:
                for _ in write_csv(table, PLAIN):
                    pass
            queries[table.name] = len(captured)
        tracemalloc.start()
        size = sum(len(piece) for piece in write_csv(table_named("log"), PLAIN))
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return queries, size, peak

    fill(50)
    few, small, least = cost()
    fill(200)
    fill(200)
    many, large, most = cost()
    assert many == few and max(few.values()) == 1
    assert large > 8 * small
    assert most < 2 * least, f"{least} bytes for {small}, {most} for {large}"


def test_the_archive_streams(bench: Client) -> None:
    fill(100)
    answer = bench.get("/export/camberbook.zip")
    assert answer.streaming
    pieces = [len(piece) for piece in answer.streaming_content]
    assert len(pieces) > len(tables()) and max(pieces) < 200_000


def test_one_table_has_a_press_each(bench: Client) -> None:
    page = bench.get("/export/?way=semicolon").content.decode()
    assert page.count("way=semicolon") >= len(tables()) + 1
    assert Blank.objects.count() == 0 and bench.post("/export/", tap()).status_code == 405
