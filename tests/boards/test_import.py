"""Stock from a file: row by row in words, all or the good ones, once and no more."""

import csv
import io
import uuid
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone

from boards.models import Blank, Kind, LogEntry, StockFile, StockRow
from boards.stock.rows import NEW, REASON, Found
from boards.stock.taking import first_reading, found_in, sheet_of
from shop.models import Series, Species, User
from tests.factories import make_species, tap

pytestmark = pytest.mark.django_db

HEADS = "number,wood,length,width,thickness"
GOOD = f"{HEADS}\nW-1,Pear,530,70,8.5\nW-2,Pear,531,71,8.6\n"


@pytest.fixture(autouse=True)
def pear(db: None) -> Species:
    return make_species("Pear")


def hand_in(client: Client, content: str | bytes, name: str = "stock.csv") -> Any:
    content = content.encode() if isinstance(content, str) else content
    return client.post("/intake/file/", tap(file=SimpleUploadedFile(name, content)))


def kept(client: Client, content: str | bytes, **more: Any) -> StockFile:
    answer = hand_in(client, content, **more)
    assert answer.status_code == 302, answer.context["form"].errors
    return StockFile.objects.get(pk=int(answer["Location"].strip("/").split("/")[-1]))


def columns(client: Client, file: StockFile, **changes: Any) -> Any:
    """Send the page of columns as it stands, with some boxes changed."""
    form = client.get(f"/intake/file/{file.pk}/").context["form"]
    values = {name: form[name].value() for name in form.fields}
    sent = {
        name: getattr(value, "pk", value)
        for name, value in values.items()
        if value not in (None, "") and value is not False
    }
    file.refresh_from_db()
    return client.post(f"/intake/file/{file.pk}/", tap(seen=file.version, **sent | changes))


def take(client: Client, file: StockFile, which: str = "all", sure: tuple[str, ...] = ()) -> Any:
    file.refresh_from_db()
    page = client.get(f"/intake/file/{file.pk}/check/")
    assert page.status_code == 200
    return client.post(f"/intake/file/{file.pk}/check/", tap(seen=file.version, which=which, sure=list(sure)))


def read(content: str) -> Found:
    """Read a file as it is guessed."""
    file = StockFile(content=content.encode(), reading=first_reading(content.encode(), "mm").as_json())
    return found_in(file, timezone.localdate())


def found(file: StockFile) -> Found:
    file.refresh_from_db()
    return found_in(file, timezone.localdate())


def test_it_works(bench: Client, maker: User) -> None:
    file = kept(bench, GOOD)
    page = bench.get(f"/intake/file/{file.pk}/")
    assert page.status_code == 200 and "What is in which column" in page.content.decode()
    assert columns(bench, file)["Location"] == f"/intake/file/{file.pk}/check/"
    checked = bench.get(f"/intake/file/{file.pk}/check/").content.decode()
    assert "2 blanks would come in" in checked and "530.0" in checked
    assert take(bench, file)["Location"] == f"/intake/file/{file.pk}/"
    first, second = Blank.objects.order_by("number")
    assert (first.number, first.length, first.thickness) == ("W-1", Decimal(530), Decimal("8.5"))
    assert second.species.name == "Pear" and second.received_on == timezone.localdate()
    for blank in (first, second):
        (entry,) = blank.log.all()
        assert (entry.kind, entry.by, entry.number) == (Kind.RECEIVED, maker, 1)
        assert blank.version == 1 and blank.changed_by == maker and blank.in_rack
    assert first.log.get().request_id == second.log.get().request_id, "one press"
    assert [row.line for row in StockRow.objects.all()] == [2, 3]
    done = bench.get(f"/intake/file/{file.pk}/").content.decode()
    assert "2 blanks came in by stock.csv" in done and "/labels/?box=W-1" in done
    file.refresh_from_db()
    assert bytes(file.content) == b"" and (file.taken, file.skipped, file.left_out) == (2, 0, 0)


def test_all_or_nothing_or_the_good_rows_only(bench: Client) -> None:
    file = kept(bench, GOOD + "W-3,Pear,wide,70,8\nW-4,Pear,530,70,\n")
    columns(bench, file)
    refused = take(bench, file, "all")
    assert refused.status_code == 422
    assert "2 rows have something wrong" in " ".join(refused.context["form"].errors["which"])
    assert not Blank.objects.exists() and not LogEntry.objects.exists()
    assert take(bench, file, "good").status_code == 302
    assert {blank.number for blank in Blank.objects.all()} == {"W-1", "W-2"}
    text = bench.get(f"/intake/file/{file.pk}/left-out.csv").content.decode("utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [row["number"] for row in rows] == ["W-3", "W-4"]
    assert rows[0][REASON].startswith("Length “wide”") and rows[1][REASON] == "Thickness is missing."
    # Mended, they come in by themselves.
    again = kept(bench, text.replace("wide", "529").replace("W-4,Pear,530,70,", "W-4,Pear,530,70,8.1"))
    columns(bench, again)
    assert take(bench, again).status_code == 302
    assert Blank.objects.count() == 4


def test_rows_left_out_can_be_taken_away_before_as_well(bench: Client) -> None:
    file = kept(bench, f"{HEADS}\n=1+1,Pear,-5,70,8\n")
    text = bench.get(f"/intake/file/{file.pk}/left-out.csv").content.decode("utf-8-sig")
    assert "'=1+1,Pear,-5,70" in text and REASON in text.splitlines()[0]


def test_a_file_with_nothing_good_takes_nothing_in(bench: Client) -> None:
    file = kept(bench, f"{HEADS}\nW-3,Pear,wide,70,8\n")
    columns(bench, file)
    assert take(bench, file, "good").status_code == 422
    assert "Nothing in this file can come in" in bench.get(f"/intake/file/{file.pk}/check/").content.decode()


# Once and no more


def test_the_same_file_again_is_known(bench: Client, other_bench: Client) -> None:
    text = "wood,length,width,thickness\n" + "Pear,530,70,8\n" * 3 + "Pear,531,70,8\n"
    first = kept(bench, text)
    columns(bench, first)
    assert take(bench, first).status_code == 302 and Blank.objects.count() == 4
    again = kept(other_bench, text)
    page = other_bench.get(f"/intake/file/{again.pk}/").content.decode()
    assert "taken in before" in page
    result = found(again)
    assert len(result.here) == 4 and not result.good
    assert result.here[0].here == "came in by stock.csv, line 2"
    # One more of the same kind in it is a new one; and somebody may say that all of them are.
    more = kept(bench, text + "Pear,530,70,8\n")
    assert (len(found(more).here), found(more).blanks) == (4, 1)
    columns(bench, more, again="on")
    assert found(more).blanks == 5


def test_the_same_press_again_takes_nothing_in_twice(bench: Client) -> None:
    file = kept(bench, GOOD)
    columns(bench, file)
    file.refresh_from_db()
    sent = {"tap": str(uuid.uuid4()), "seen": file.version, "which": "all"}
    answers = [bench.post(f"/intake/file/{file.pk}/check/", sent) for _ in range(2)]
    assert Blank.objects.count() == 2
    assert {answer["Location"] for answer in answers} == {f"/intake/file/{file.pk}/"}


def test_numbers_that_are_here_are_skipped_and_other_figures_under_them_are_wrong(bench: Client) -> None:
    file = kept(bench, GOOD)
    columns(bench, file)
    take(bench, file)
    result = read(
        f"{HEADS}\nw-1,Pear,530,70,8.5\nW-2,Pear,531,72,8.6\nW-3,Pear,530,70,8\nW-3,Pear,530,70,8\nW-3,Pear,1,70,8\n"
    )
    here = {row.record.line: row.here for row in result.here}
    wrong = {row.record.line: " ".join(row.wrong) for row in result.wrong}
    assert here == {2: "W-1 is here already", 5: "the same as line 4"}
    assert wrong == {
        3: "W-2 is here already, with another width.",
        6: "Number W-3 stands in line 4 already.",
    }


def test_a_number_taken_meanwhile_takes_nothing_in(bench: Client, other_bench: Client) -> None:
    one, other = kept(bench, GOOD), kept(other_bench, GOOD.replace("531", "529"))
    columns(bench, one)
    columns(other_bench, other)
    other.refresh_from_db()
    page = other_bench.get(f"/intake/file/{other.pk}/check/")
    assert page.status_code == 200
    take(bench, one)
    answer = other_bench.post(f"/intake/file/{other.pk}/check/", tap(seen=other.version, which="all"))
    assert answer.status_code == 422
    assert Blank.objects.count() == 2


def test_numbers_from_the_series_pass_over_those_of_the_file(bench: Client) -> None:
    ahead = Series.peek(Series.Kind.BLANK, timezone.localdate())
    file = kept(bench, f"{HEADS}\n,Pear,530,70,8\n{ahead},Pear,531,70,8\n,Pear,532,70,8\n")
    columns(bench, file)
    take(bench, file)
    numbers = list(Blank.objects.order_by("length").values_list("number", flat=True))
    assert numbers[1] == ahead and len(set(numbers)) == 3


# Woods


def test_woods_that_are_none_of_ours_are_asked_about(bench: Client, pear: Species) -> None:
    file = kept(bench, f"{HEADS}\nW-1,Birnbaum,530,70,8\nW-2,Bog oak,530,70,8\nW-3,Scrap,530,70,8\nW-4,PEAR,530,70,8\n")
    columns(bench, file)
    page = bench.get(f"/intake/file/{file.pk}/check/")
    form = page.context["woods"]
    assert form.words == ["Birnbaum", "Bog oak", "Scrap"] and page.context["found"].blanks == 1
    file.refresh_from_db()
    sent = tap(seen=file.version, **{"wood-0": str(pear.pk), "wood-1": NEW, "wood-2": "out"})
    assert bench.post(f"/intake/file/{file.pk}/woods/", sent).status_code == 302
    assert take(bench, file, "good").status_code == 302
    woods = {blank.number: blank.species.name for blank in Blank.objects.select_related("species")}
    assert woods == {"W-1": "Pear", "W-2": "Bog oak", "W-4": "Pear"}
    assert Species.objects.filter(name="Bog oak").count() == 1
    later = kept(bench, f"{HEADS}\nW-7,Birnbaum,530,70,8\n")
    assert found(later).blanks == 1, "said once, kept"


def test_a_wood_for_all_rows(bench: Client, pear: Species) -> None:
    file = kept(bench, "length,width,thickness,shelf\n530,70,8,A1\n")
    bare = columns(bench, file)
    assert bare.status_code == 422 and "Wood: say which column it is." in bare.content.decode()
    columns(bench, file, species=str(pear.pk), received_on="2026-03-02", cut="rift", supplier="Hollin")
    take(bench, file)
    blank = Blank.objects.get()
    assert (blank.species, blank.cut, blank.supplier, blank.place) == (pear, "rift", "Hollin", "A1")
    assert blank.received_on == date(2026, 3, 2)


# Columns


def test_columns_pointed_out_once_are_known_by_their_headings(bench: Client) -> None:
    odd = "Ref;Holz;A;B;C\nW-1;Pear;53;7;0,8\n"
    file = kept(bench, odd)
    answer = columns(bench, file)
    assert answer.status_code == 422
    for words in ("Wood: say which column", "Length: say which column"):
        assert words in answer.content.decode()
    chosen = {"column-0": "number", "column-1": "species", "column-2": "length:cm", "column-3": "width:cm"}
    assert columns(bench, file, **chosen, **{"column-4": "thickness:cm"}).status_code == 302
    assert take(bench, file).status_code == 302
    assert Blank.objects.get().thickness == 8
    later = kept(bench, odd.replace("W-1", "W-2"))
    assert found(later).blanks == 1
    assert "came before" in bench.get(f"/intake/file/{later.pk}/").content.decode()


def test_one_meaning_for_two_columns_is_refused(bench: Client) -> None:
    file = kept(bench, GOOD)
    answer = columns(bench, file, **{"column-2": "width:mm"})
    assert answer.status_code == 422
    assert "Width: 2 columns cannot both be it." in answer.content.decode()


def test_another_separator_cuts_the_file_afresh(bench: Client) -> None:
    file = kept(bench, "title of the list\n" + GOOD.replace(",", ";"))
    assert found(file).blanks == 2, "a title above the headings is passed over"
    answer = columns(bench, file, delimiter=",", head="1")
    assert answer["Location"] == f"/intake/file/{file.pk}/", "its columns are asked for afresh"
    file.refresh_from_db()
    assert len(sheet_of(file)[0].heads) == 1
    columns(bench, file, delimiter=";", head="2")
    assert found(file).blanks == 2
    assert columns(bench, file, head="20").status_code == 422
    assert columns(bench, file, encoding="utf-16").status_code == 422


def test_a_file_without_headings(bench: Client) -> None:
    file = kept(bench, "W-1,Pear,530,70,8\nW-2,Pear,531,70,8\n")
    columns(bench, file, head="0")
    named = {"column-0": "number", "column-1": "species", "column-2": "length:mm", "column-3": "width:mm"}
    columns(bench, file, **named, **{"column-4": "thickness:mm"})
    assert found(file).blanks == 2


def test_unusual_figures_are_asked_about(bench: Client) -> None:
    file = kept(bench, f"{HEADS}\nW-1,Pear,20.5,2.75,0.33\n")  # inches, taken for millimetres
    columns(bench, file)
    asked = take(bench, file)
    assert asked.status_code == 422 and not Blank.objects.exists()
    questions = asked.context["form"].questions
    assert len(questions) == 3 and "Length is unusual in one row" in questions[0].words
    assert take(bench, file, sure=tuple(question.key for question in questions)).status_code == 302


@pytest.mark.parametrize("text", ["\x00", "9" * 400, "1e400", "NaN", "🎸", "x" * 5000])
def test_nothing_typed_breaks_the_page(bench: Client, text: str) -> None:
    file = kept(bench, GOOD)
    for field in ("delimiter", "encoding", "head", "decimal", "days", "species", "cut", "received_on", "supplier",
                  "lot", "place", "column-0"):  # fmt: skip
        assert columns(bench, file, **{field: text}).status_code in (302, 422), field
    for address in ("check", "woods"):
        sent = tap(seen=file.version, which=text, **{"wood-0": text})
        assert bench.post(f"/intake/file/{file.pk}/{address}/", sent).status_code in (302, 409, 422)


def test_a_file_is_its_owners_alone_and_goes_away(bench: Client, other_bench: Client) -> None:
    file = kept(bench, GOOD)
    for page in ("", "check/", "left-out.csv"):
        assert other_bench.get(f"/intake/file/{file.pk}/{page}").status_code == 404
    StockFile.objects.update(at=timezone.now() - timezone.timedelta(hours=StockFile.KEPT_HOURS + 1))
    kept(other_bench, GOOD)
    assert bench.get(f"/intake/file/{file.pk}/").status_code == 404


def test_five_thousand_rows_cost_far_fewer_queries(bench: Client, django_assert_max_num_queries: Any) -> None:
    text = HEADS + "\n" + "".join(f"W-{k},Pear,{500 + k % 60},70,8.5\n" for k in range(5000))
    file = kept(bench, text)
    file.refresh_from_db()
    columns(bench, file)
    with django_assert_max_num_queries(400):
        assert take(bench, file).status_code == 302
    assert Blank.objects.count() == LogEntry.objects.count() == StockRow.objects.count() == 5000
