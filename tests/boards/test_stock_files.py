"""How a file of stock is read, whichever program wrote it, and what is said of a row that cannot be."""

from datetime import date
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from boards.models import Cut, StockFile
from boards.stock.rows import Found
from boards.stock.sheet import MOST_BYTES
from boards.stock.taking import first_reading, found_in
from shop.models import Lengths, Shop, Species
from tests.boards.test_import import found, hand_in, kept
from tests.factories import make_species, tap

pytestmark = pytest.mark.django_db

HEADS = "number,wood,length,width,thickness"
GOOD = f"{HEADS}\nW-1,Pear,530,70,8.5\nW-2,Pear,531,71,8.6\n"


@pytest.fixture(autouse=True)
def pear(db: None) -> Species:
    return make_species("Pear")


def read(content: str | bytes, unit: str = "mm", **woods: str) -> Found:
    """Read a file as it is guessed."""
    content = content.encode() if isinstance(content, str) else content
    file = StockFile(content=content, reading=first_reading(content, unit).as_json(), woods=woods)
    return found_in(file, timezone.localdate())


def wrong_of(content: str) -> list[str]:
    return [f"{row.record.line}: {' '.join(row.wrong)}" for row in read(content).wrong]


# Whichever program wrote it


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_letters_and_separators_are_found(encoding: str, delimiter: str) -> None:
    text = "Nr;Wood;Length;Width;Thickness;Supplier\r\nW-1;Pear;530;70;8;Müller & Söhne\r\n".replace(";", delimiter)
    (row,) = read(text.encode(encoding)).rows
    assert row.is_good and row.values["supplier"] == "Müller & Söhne" and row.values["length"] == 530


def test_what_a_spreadsheet_writes_is_read() -> None:
    """Semicolons, decimal commas, days with points, a line that names the separator, empty lines at the end."""
    text = (
        "\ufeffsep=;\r\nNr.;Wood;Length (mm);Width in mm;Thickness_mm;MC %;Received;Price\r\n"
        'W-1;Pear;1.530,5;70,25;8,5;7,5;24.03.2026;"1.012,50 €"\r\n;;;;;;;\r\n'
        "W-2;Pear;530;70;8;8%;45740;12\r\n;;;;;;;\r\n"
    )
    one, two = read(text).rows
    assert one.values == {
        "number": "W-1", "species": one.values["species"], "length": Decimal("1530.5"), "width": Decimal("70.25"),
        "thickness": Decimal("8.5"), "moisture": Decimal("7.5"), "received_on": date(2026, 3, 24),
        "cost": Decimal("1012.50"),
    }  # fmt: skip
    assert (two.record.line, two.values["moisture"]) == (5, 8)
    # 45740 is 2025-03-24: days since 1899-12-30, as 1 January 2000 is 36526 (Office Open XML, part 1, 18.17.4.1).
    assert two.values["received_on"] == date(2025, 3, 24)


@pytest.mark.parametrize(
    ("head", "cell", "mm"),
    [
        ("length", "530", "530"), ("length (cm)", "53.05", "530.5"), ("length in", "20 1/2", "520.7"),
        ("Length, inches", "20.5", "520.7"), ("length", '"20 1/2"""', "520.7"), ("length", "20 1/2 in", "520.7"),
        ("length cm", "530 mm", "530"), ("length", '20⅞"', "530.225"), ("length in", "530 mm", "530"),
    ],
)  # fmt: skip
def test_lengths_in_the_unit_of_the_column_or_of_the_cell(head: str, cell: str, mm: str) -> None:
    head = f'"{head}"' if "," in head else head
    (row,) = read(f"wood,{head},width,thickness\nPear,{cell},70,8\n").rows
    assert row.values["length"] == Decimal(mm), row.wrong


def test_bare_lengths_are_in_the_shops_unit(bench: Client) -> None:
    Shop.objects.update(lengths=Lengths.INCH_FRACTION)
    file = kept(bench, "wood,length,width,thickness\nPear,20 1/2,2.75,3/8\n")
    (row,) = found(file).rows
    assert [row.values[name] for name in ("length", "width", "thickness")] == [
        Decimal("520.7"), Decimal("69.85"), Decimal("9.525"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("cells", "days"),
    [
        (["24/03/2026", "3/4/2026"], [date(2026, 3, 24), date(2026, 4, 3)]),
        (["03/24/2026", "3/4/2026"], [date(2026, 3, 24), date(2026, 3, 4)]),
        (["2026-03-24", "2026/4/3"], [date(2026, 3, 24), date(2026, 4, 3)]),
        (["24 Mar 2026", "3-Apr-26"], [date(2026, 3, 24), date(2026, 4, 3)]),
        (['"Mar 24, 2026"', "April 3 2026"], [date(2026, 3, 24), date(2026, 4, 3)]),
        (["2026-03-24 00:00:00", "24.3.26"], [date(2026, 3, 24), date(2026, 3, 24)]),
        (["3.4.97", "1.1.26"], [date(1997, 4, 3), date(2026, 1, 1)]),
    ],
)
def test_days_however_they_are_written(cells: list[str], days: list[date], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("django.utils.timezone.localdate", lambda *_: date(2026, 11, 25))
    text = "wood,length,width,thickness,received\n" + "".join(f"Pear,530,70,8,{cell}\n" for cell in cells)
    assert [row.values.get("received_on") for row in read(text).rows] == days, wrong_of(text)


def test_ways_of_sawing_and_pieces_alike() -> None:
    text = (
        "wood,length,width,thickness,sawn,qty\nPear,530,70,8,QS,3\nPear,530,70,8,flat-sawn,1.0\nPear,530,70,8,Rift,\n"
    )
    rows = read(text).rows
    assert [row.values["cut"] for row in rows] == [Cut.QUARTER, Cut.FLAT, Cut.RIFT]
    assert [row.many for row in rows] == [3, 1, 1]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"\xff\xfe", "nothing in this file"),
        (b" \r\n \r\n", "nothing in this file"),
        (b"PK\x03\x04" + b"x" * 90, "spreadsheet's own file"),
        (b"%PDF-1.7", "a PDF"),
        (bytes(range(256)) * 20, "not a table of text"),
        (b"wood,length,width,thickness\n", "no rows"),
        (b'wood,length\nPear,"530\nPear,531\n', "line 2: a quotation mark opens here and is never closed"),
        (b'wood,length\nPear,"530"x\n', "line 2: behind a closing quotation mark"),
        (b"a," * 90 + b"b\n" * 2, "80 columns are the most"),
        (b"wood,length\n" + b"Pear,530\n" * 10_050, "more than 10000 rows"),
        (b"wood,length\n" + b"x" * 140_000 + b",530\n", "longer than any"),
        (b"x" * (MOST_BYTES + 1), "4 MB is the most"),
    ],
)
def test_a_broken_file_is_refused_in_words(bench: Client, content: bytes, words: str) -> None:
    answer = hand_in(bench, content)
    assert answer.status_code == 422
    assert words.lower() in " ".join(answer.context["form"].errors["file"]).lower()
    assert not StockFile.objects.exists()
    assert bench.post("/intake/file/", tap()).status_code == 422


@pytest.mark.parametrize(
    ("cells", "words"),
    [
        ("W-9,Pear,,70,8", "2: Length is missing."),
        ("W-9,Pear,wide,70,8", "2: Length “wide”: this cannot be read as a length"),
        ("W-9,Pear,0,70,8", "2: Length cannot be zero."),
        ("W-9,Pear,-5,70,8", "2: Length “-5”: a length here cannot be less than nothing"),
        ("W-9,Pear,1e400,70,8", "2: Length “1e400”: a power of ten is not read here"),
        ("W-9,Pear,NaN,70,8", "2: Length “NaN”: this cannot be read as a length"),
        ("W-9,Pear,999999999999,70,8", "2: Length “999999999999”: this is longer than 100 m"),
        ("W 9,Pear,530,70,8", "2: Our number of it “W 9” has more than letters"),
        (f"{'W' * 25},Pear,530,70,8", "2: Our number of it is 25 characters long; 24 is the most."),
        ("W-9,,530,70,8", "2: Wood is missing."),
        ("W-9,Bog oak,530,70,8", "2: Wood Bog oak is none of ours."),
        (f"W-9,{'x' * 61},530,70,8", "2: Wood is 61 characters long; 60 is the most."),
        ("W-9,Pear,,,", "2: Length is missing. Width is missing. Thickness is missing."),
    ],
)
def test_what_is_wrong_with_a_row_is_said_with_its_line(cells: str, words: str) -> None:
    (said,) = wrong_of(f"{HEADS}\n{cells}\n")
    assert said.startswith(words), said


@pytest.mark.parametrize(
    ("head", "cell", "words"),
    [
        ("moisture", "dry", "Moisture, % “dry” is not a number."),
        ("moisture", "201", "is more than can be meant"),
        ("moisture", "7.55", "has more than 1 decimal."),
        ("moisture", "-1", "cannot be negative"),
        ("cost", "twelve", "is not a number"),
        ("cost", "1e9", "is not a number"),
        ("qty", "0", "is not from 1 to 200"),
        ("qty", "1.5", "is not a whole number"),
        ("sawn", "crooked", "none of quartersawn, rift and flatsawn"),
        ("received", "31.02.2026", "is not a day"),
        ("received", "1.1.2999", "is still to come"),
        ("received", "1.1.1901", "more than fifty years ago"),
        ("lot", "x" * 41, "is 41 characters long; 40 is the most"),
        ("remarks", "x" * 2001, "is 2001 characters long; 2000 is the most"),
    ],
)
def test_what_is_wrong_besides(head: str, cell: str, words: str) -> None:
    (said,) = wrong_of(f"wood,length,width,thickness,{head}\nPear,530,70,8,{cell}\n")
    assert words in said


def test_lines_are_counted_as_an_editor_counts_them() -> None:
    text = f'{HEADS},remarks\nW-1,Pear,530,70,8,"two\nlines"\n\nW-2,Pear,bad,70,8,\n'
    assert wrong_of(text)[0].startswith("5: ")
