"""Logging new blanks: a box of them in one go, or one by one."""

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.test import Client

from boards.models import Blank, Kind, LogEntry
from shop.models import Series, Shop, Tap, User
from tests.factories import days_ago, make_blanks, make_build, make_hand, make_species, tap

pytestmark = pytest.mark.django_db

URL = "/intake/"


def payload(**changes: object) -> dict[str, object]:
    """A box of three that raises no question."""
    return tap(
        species=make_species().pk,
        cut="quarter",
        how_many="3",
        length="530",
        width="70",
        thickness="8.5",
        moisture="8.4",
        received_on=days_ago(0).isoformat(),
        supplier="Lower Yard",
        lot="box 4",
        cost="12.50",
        place="A3",
        remarks="",
    ) | {name: value for name, value in changes.items() if value is not None}


def nothing_came_in() -> bool:
    return not Blank.objects.exists() and not LogEntry.objects.exists() and Series.objects.get(kind="blank").last == 0


def test_it_works(bench: Client, maker: User) -> None:
    answer = bench.post(URL, payload(), follow=True)
    blanks = list(Blank.objects.all())
    assert [blank.number for blank in blanks] == ["F0001", "F0002", "F0003"]
    assert {(b.length, b.width, b.thickness, b.moisture) for b in blanks} == {
        (Decimal(530), Decimal(70), Decimal("8.5"), Decimal("8.4"))
    }
    assert {(b.supplier, b.lot, b.cost, b.place) for b in blanks} == {("Lower Yard", "box 4", Decimal("12.5"), "A3")}
    assert [(e.blank.number, e.kind, e.by, e.number) for e in LogEntry.objects.all()] == [
        (blank.number, Kind.RECEIVED, maker, 1) for blank in blanks
    ]
    assert "F0001 to F0003 are in the rack" in answer.content.decode()


def test_the_next_one_keeps_the_values(bench: Client) -> None:
    answer = bench.post(URL, payload(how_many="1", length="20 7/8 in", remarks="A knot at one end"), follow=True)
    form = answer.context["form"]
    assert form["width"].value() == "70.0"
    assert Decimal(form["length"].value()) == Decimal("530.225")
    assert form["supplier"].value() == "Lower Yard"
    assert form["species"].value() == make_species().pk
    assert not form["remarks"].value(), "a remark belongs to one blank"
    assert answer.context["next_number"] == "F0002"


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("520", "520"),
        ("520 mm", "520"),
        ("52 cm", "520"),
        ("52,05 cm", "520.5"),
        ("20.5 in", "520.7"),
        ('20-1/2"', "520.7"),
        ("20½ in", "520.7"),
    ],
)
def test_lengths_in_either_unit(bench: Client, typed: str, mm: str) -> None:
    # 1 in = 25.4 mm exactly (international yard and pound agreement, 1959)
    bench.post(URL, payload(length=typed, how_many="1"))
    assert Blank.objects.get().length == Decimal(mm)


def test_a_bare_number_is_in_the_shops_unit(bench: Client, shop: Shop) -> None:
    shop.lengths = "fraction"
    shop.save()
    bench.post(URL, payload(length="20 1/2", width="2 3/4", thickness="3/8", how_many="1"))
    blank = Blank.objects.get()
    assert (blank.length, blank.width, blank.thickness) == (Decimal("520.7"), Decimal("69.85"), Decimal("9.525"))


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        *[("length", each) for each in ("", "0", "-530", "NaN", "inf", "1e400", "a lot", "1,000", "530 ft", "1/0")],
        *[("length", each) for each in ("9" * 39, "9" * 400, "100001", "٠", "<script>", "0.0000001")],
        *[("thickness", each) for each in ("0.00", "-0.1", "Infinity", "8.5.1", "8 mm 5")],
        *[("moisture", each) for each in ("-1", "NaN", "Infinity", "201", "1e400", "wet", "8.44")],
        *[("cost", each) for each in ("-1", "NaN", "1e400", "12.345", "99999999999")],
        *[("how_many", each) for each in ("", "0", "-3", "201", "1.5", "1e400", "NaN", "many")],
        *[("received_on", each) for each in ("", "1800-01-01", "2999-01-01", "0000-00-00", "31.12.", "today")],
        *[("species", each) for each in ("", "0", "99999999999999999999999", "pear", "-1")],
        *[("cut", each) for each in ("", "sideways")],
        *[("remarks", each) for each in ("x" * 10_000,)],
        *[("lot", each) for each in ("x" * 41, "a\x00b")],
        *[("place", each) for each in ("x" * 10_000,)],
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(bench: Client, field: str, typed: str) -> None:
    sent = payload(**{field: typed})
    answer = bench.post(URL, sent)
    assert answer.status_code == 422
    form = answer.context["form"]
    assert form.errors.get(field), f"no error beside {field}"
    assert set(form.errors) == {field}
    for name in ("supplier", "width", field):
        assert form[name].value() == sent[name], "what was typed is kept"
    assert not form.questions
    assert nothing_came_in()


def test_an_error_cannot_be_confirmed(bench: Client) -> None:
    answer = bench.post(URL, payload(length="-530", sure=["length=-530", "length=-530.000000", "length"]))
    assert answer.status_code == 422
    assert nothing_came_in()


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        ("length", "53 in"),
        ("length", "53"),
        ("width", "700"),
        ("thickness", "85"),
        ("thickness", "85 mm"),
        ("moisture", "45"),
        ("moisture", "2"),
    ],
)
def test_what_looks_like_a_slip_is_asked_about(bench: Client, field: str, typed: str) -> None:
    sent = payload(**{field: typed})
    asked = bench.post(URL, sent)
    assert asked.status_code == 422
    questions = asked.context["form"].questions
    assert field in {question.field for question in questions}
    assert asked.context["form"][field].value() == typed
    assert nothing_came_in()

    # A tick stands for the value that it was put for, and for no other.
    keys = [question.key for question in questions]
    otherwise = bench.post(
        URL, payload(**{field: typed.replace("5", "6").replace("2", "3").replace("7", "8")}, sure=keys)
    )
    assert otherwise.status_code == 422
    assert nothing_came_in()

    confirmed = bench.post(URL, {**sent, "sure": keys})
    assert confirmed.status_code == 302
    assert Blank.objects.count() == 3


def test_the_same_press_twice_makes_one_box(bench: Client) -> None:
    sent = payload()
    first, second = bench.post(URL, sent), bench.post(URL, sent)
    assert first.status_code == second.status_code == 302
    assert first["Location"] == second["Location"]
    assert Blank.objects.count() == 3
    assert LogEntry.objects.count() == 3


def test_a_press_belongs_to_its_page_and_its_person(bench: Client, other_bench: Client) -> None:
    sent = payload()
    bench.post(URL, sent)
    (blank, *_) = Blank.objects.all()
    build = make_build()
    elsewhere = bench.post(
        f"/blanks/{blank.number}/put/", {"tap": sent["tap"], "seen": blank.version, "spec": f"build:{build.pk}"}
    )
    assert elsewhere.status_code == 400
    assert "was sent from somewhere else before" in elsewhere.content.decode()
    assert other_bench.post(URL, sent).status_code == 400
    blank.refresh_from_db()
    assert blank.build is None
    assert Blank.objects.count() == LogEntry.objects.count() == 3


@pytest.mark.parametrize("bad", ["", "1", "not-an-id", "x" * 5000, "%00", "{}"])
def test_without_its_press_nothing_is_done(bench: Client, bad: str) -> None:
    answer = bench.post(URL, payload(tap=bad))
    assert answer.status_code == 400
    assert "Open the page again" in answer.content.decode()
    assert nothing_came_in()
    assert not Tap.objects.exists()


def test_what_no_form_asks_for_changes_nothing(bench: Client) -> None:
    extra = {"number": "F9999", "version": "7", "condition": "scrapped", "build": "1", "id": "5", "changed_by": "1"}
    bench.post(URL, payload(how_many="1", **extra))
    blank = Blank.objects.get()
    assert (blank.number, blank.version, blank.condition, blank.build) == ("F0001", 1, "active", None)


def test_names_are_shown_as_they_were_typed(bench: Client) -> None:
    nasty = "<script>alert(1)</script>"
    bench.post(URL, payload(how_many="1", supplier=nasty, lot=nasty[:40], place=nasty[:40], remarks=nasty))
    for page in ("/rack/", "/blanks/F0001/", "/intake/?like=F0001&first=F0001", "/", "/find/?q=" + nasty):
        text = bench.get(page).content.decode()
        assert "<script>alert" not in text, page
    assert "&lt;script&gt;alert(1)" in bench.get("/blanks/F0001/").content.decode()


def test_numbers_that_are_taken_already_are_passed_over(bench: Client) -> None:
    """The owner may set the series back; the blanks that are there keep their numbers."""
    make_blanks(4, hand=make_hand())
    Series.objects.filter(kind="blank").update(last=1)
    answer = bench.post(URL, payload(how_many="2"))
    assert answer.status_code == 302
    assert [blank.number for blank in Blank.objects.all()][-2:] == ["F0005", "F0006"]


def test_numbers_with_the_year_start_anew() -> None:
    Series.objects.filter(kind="blank").update(with_year=True, prefix="", digits=3)
    days = [datetime(2025, 12, 31, 12, tzinfo=UTC), datetime(2026, 1, 1, 12, tzinfo=UTC)]
    numbers = [make_blanks(hand=make_hand(at=at))[0].number for at in days]
    # What came in last year and is only logged now counts with this one: the numbers of last year are given out.
    numbers.append(make_blanks(hand=make_hand(at=days[1]), received_on=days[0].date())[0].number)
    assert numbers == ["25-001", "26-001", "26-002"]
