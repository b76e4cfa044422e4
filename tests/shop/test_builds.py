"""Writing down a build and changing it."""

from decimal import Decimal

import pytest
from django.test import Client

from boards.models import Kind
from shop.models import Build, Lengths, Series, Shop, User
from tests.factories import (
    days_ago,
    make_blank,
    make_build,
    make_hand,
    make_pattern,
    make_route,
    make_species,
    make_wire,
    tap,
)

pytestmark = pytest.mark.django_db

NEW = "/builds/new/"


def payload(**changes: object) -> dict[str, object]:
    """A six-string board that raises no question; what a spec has besides is as it starts."""
    fields = [Build._meta.get_field(name) for name in Build.SPEC]
    usual = {field.name: field.get_default() for field in fields if field.has_default()}
    whole = {
        "title": "Lark, six strings",
        "number": "B901",
        "customer": "Nobody in particular",
        "due_on": days_ago(-30).isoformat(),
        "neck_joint": "glued",
        "remarks": "",
        "scale": "648",
        "bass_scale": "",
        "square_fret": "",
        "inset": "3.5",
        "frets": "22",
        "nut_width": "43",
        "heel_width": "57",
        "overhang": "8",
        "nut_ledge": "0",
        "thickness": "6",
        "radius_nut": "12 in",
        "radius_heel": "",
        "wire": make_wire().pk,
        "species": "",
        "route": make_route().pk,
        "edge": "3",
        "end": "10",
        "proving": "25",
        "flatten": "0.4",
        "skim": "0.15",
        "sanding": "0.15",
        "clearance": "0.3",
        "web_min": "1.5",
        "seen": "0",
    }
    return tap(**{**usual, **whole, **changes})


def change(client: Client, build: Build, **changes: object) -> object:
    return client.post(f"/builds/{build.number}/change/", payload(seen=str(build.version), **changes))


def row(build: Build) -> dict[str, object]:
    return Build.objects.filter(pk=build.pk).values().get()


def test_its_passes_leave_no_higher_steps_than_the_shop_allows(bench: Client, shop: Shop) -> None:
    build = make_build()
    assert bench.get(f"/builds/{build.number}/").context["result"].passes.scallop > 0.005
    shop.scallop_max = Decimal("0.005")
    shop.save()
    assert bench.get(f"/builds/{build.number}/").context["result"].passes.scallop <= 0.005


def test_it_works(bench: Client) -> None:
    answer = bench.post(NEW, payload(), follow=True)
    build = Build.objects.get()
    assert answer.redirect_chain == [("/builds/B901/", 302)]
    assert (build.scale, build.frets, build.radius_nut) == (Decimal(648), 22, Decimal("304.8"))
    assert build.radius_heel == Decimal("304.8"), "left empty it is as at the nut"
    page = answer.content.decode()
    # The twelfth fret halves the string: 648 / 2
    for words in ("Written down.", "B901: Lark, six strings", "324.00", "Nobody in particular"):
        assert words in page


def test_it_gets_the_next_number_of_the_series(bench: Client) -> None:
    make_build("b002")
    assert "The next is B001" in bench.get(NEW).content.decode()
    for _ in range(2):
        assert bench.post(NEW, payload(number="")).status_code == 302
    assert sorted(Build.objects.values_list("number", flat=True)) == ["B001", "B003", "b002"]


def test_the_same_press_twice_is_one_build(bench: Client) -> None:
    sent = payload(number="")
    first, second = bench.post(NEW, sent), bench.post(NEW, sent)
    assert first["Location"] == second["Location"] == "/builds/B001/"
    assert Build.objects.count() == 1
    assert Series.objects.get(kind="build").last == 1


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        *[(f, each) for f in ("scale", "thickness") for each in ("", "0", "-1", "NaN", "inf", "1e400", "x", "1,000")],
        *[("scale", each) for each in ("99", "3001", "9" * 39, "9" * 400, "<script>")],
        *[("nut_width", each) for each in ("9", "301", "-43")],
        *[("frets", each) for each in ("", "0", "-1", "61", "2.5", "NaN", "1e400", "many", "9" * 30)],
        *[("overhang", each) for each in ("-8", "NaN", "301", "")],
        *[("thickness", each) for each in ("0.5", "51")],
        *[("radius_nut", each) for each in ("0", "-12 in", "NaN", "1e400", "19", "50001", "flat")],
        *[("edge", each) for each in ("-3", "NaN", "201", "")],
        *[("web_min", each) for each in ("-1", "21")],
        *[("wire", each) for each in ("", "0", "x", "9" * 30)],
        *[("route", each) for each in ("", "0", "x")],
        *[("species", each) for each in ("999999", "x")],
        *[("due_on", each) for each in ("1800-01-01", "2999-12-31", "0000-00-00", "soon", "31.12.2026 noon")],
        *[("number", each) for each in ("a b", "../x", "B/1", "ä", "x" * 25, "<b>", "a\x00b", "new", "preview")],
        *[("title", each) for each in ("", "   ", "x" * 81, "x" * 10_000)],
        *[("remarks", each) for each in ("x" * 10_000,)],
        *[("customer", each) for each in ("x" * 81,)],
        *[("neck_joint", each) for each in ("", "screwed")],
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(bench: Client, field: str, typed: str) -> None:
    sent = payload(**{field: typed})
    answer = bench.post(NEW, sent)
    assert answer.status_code == 422
    form = answer.context["form"]
    assert form.errors.get(field), f"no error beside {field}: {form.errors}"
    assert form.non_field_errors() == []
    for name in {field, "title", "scale", "customer"}:
        assert form[name].value() == sent[name], "what was typed is kept"
    assert not Build.objects.exists()
    assert Series.objects.get(kind="build").last == 0


def test_an_empty_form_says_what_is_missing(bench: Client) -> None:
    answer = bench.post(NEW, tap())
    assert answer.status_code == 422
    assert {"title", "scale", "nut_width", "heel_width", "thickness", "frets", "wire", "route"} <= set(
        answer.context["form"].errors
    )
    assert not Build.objects.exists()


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        # A chord of 57 mm does not fit a circle of 25 mm radius, whose diameter is 50.
        ({"radius_nut": "25"}, "radius_nut"),
        ({"radius_nut": "254", "radius_heel": "25"}, "radius_heel"),
        ({"radius_nut": "20", "radius_heel": "254"}, "radius_nut"),
        ({"radius_nut": "", "radius_heel": "254"}, "radius_nut"),
        ({"bass_scale": "686"}, "square_fret"),
        ({"square_fret": "7"}, "bass_scale"),
        ({"bass_scale": "3000", "scale": "300", "square_fret": "22"}, "scale"),
        ({"bass_scale": "686", "square_fret": "61"}, "square_fret"),
        ({"bass_scale": "686", "square_fret": "7", "inset": "30"}, "inset"),
        ({"scale": "200", "frets": "60"}, "wire"),
    ],
)
def test_a_board_that_cannot_be_made_is_refused_beside_the_field(
    bench: Client, changes: dict[str, str], field: str
) -> None:
    sent = payload(**changes)
    asked = bench.post(NEW, sent)
    sure = [question.key for question in asked.context["form"].questions]
    answer = bench.post(NEW, {**sent, "sure": sure})
    assert answer.status_code == 422
    form = answer.context["form"]
    assert field in form.errors, form.errors
    for name, value in changes.items():
        assert form[name].value() == value, "what was typed is kept"
    assert not Build.objects.exists()


def test_a_chord_wider_than_its_circle_is_said_in_words(bench: Client) -> None:
    answer = bench.post(NEW, payload(radius_nut="25"))
    (message, *_) = answer.context["form"].errors["radius_nut"]
    assert "the radius must be more than half the width" in message
    page = answer.content.decode()
    assert message in page
    assert 'value="25"' in page


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"scale": "700"}, "scale"),
        ({"scale": "25.5"}, None),
        ({"frets": "40"}, "frets"),
        ({"nut_width": "60", "heel_width": "59"}, "nut_width"),
        ({"heel_width": "42"}, "heel_width"),
        ({"thickness": "9"}, "thickness"),
    ],
)
def test_what_is_seldom_meant_is_asked_about(bench: Client, changes: dict[str, str], field: str | None) -> None:
    sent = payload(**changes)
    answer = bench.post(NEW, sent)
    assert answer.status_code == 422
    assert not Build.objects.exists()
    form = answer.context["form"]
    if field is None:
        assert "scale" in form.errors, "25.5 mm is refused: inches were meant"
        return
    assert field in {question.field for question in form.questions}
    assert bench.post(NEW, {**sent, "sure": [question.key for question in form.questions]}).status_code == 302


def test_lengths_in_inches(bench: Client, shop: Shop) -> None:
    shop.lengths = Lengths.INCH_FRACTION
    shop.save()
    inches = {"scale": "25 1/2", "nut_width": "1 11/16", "heel_width": "2 1/4", "thickness": "1/4", "overhang": "5/16"}
    inches |= {"radius_nut": "12", "inset": "1/8", "proving": "1", "end": "3/8", "edge": "1/8", "web_min": "1/16"}
    small = {"flatten": "0.016", "skim": "0.006", "sanding": "0.006", "clearance": "0.012"}
    assert bench.post(NEW, payload(**inches, **small)).status_code == 302
    build = Build.objects.get()
    # 25.4 mm to the inch: 25 1/2 in = 647.7 mm, 1 11/16 in = 42.8625 mm
    assert (build.scale, build.nut_width, build.radius_nut) == (Decimal("647.7"), Decimal("42.8625"), Decimal("304.8"))


def test_a_number_that_is_taken(bench: Client) -> None:
    make_build("B901")
    for number in ("B901", "b901"):
        answer = bench.post(NEW, payload(number=number))
        assert answer.status_code == 422
        assert answer.context["form"].errors["number"] == [f"There is a build {number} already."]
    assert Build.objects.count() == 1


def test_names_are_shown_as_they_were_typed(bench: Client) -> None:
    nasty = "<script>alert(1)</script>"
    bench.post(NEW, payload(title=nasty, customer=nasty, remarks=nasty))
    build = Build.objects.get()
    blank = make_blank(build, done=2)
    pages = [
        "/",
        "/rack/",
        "/builds/",
        "/builds/B901/",
        "/builds/B901/change/",
        "/benches/radiusing/",
        "/find/?q=script",
    ]
    for page in [*pages, f"/blanks/{blank.number}/"]:
        text = bench.get(page).content.decode()
        assert "<script>alert" not in text, page
    assert "&lt;script&gt;alert(1)" in bench.get("/builds/B901/").content.decode()


# From a pattern


def test_a_build_copies_a_pattern(bench: Client) -> None:
    pattern = make_pattern(scale=Decimal("635"), frets=24, radius_nut=Decimal(254), radius_heel=Decimal("406.4"))
    form = bench.get(f"{NEW}?pattern={pattern.pk}").context["form"]
    typed = {name: form[name].value() for name in form.fields}
    assert Decimal(typed["scale"]) == 635
    assert typed["frets"] == 24
    sent = {name: value for name, value in typed.items() if value is not None}
    sent |= {"title": "From a pattern", "number": "B907", "neck_joint": "bolted", **tap()}
    assert bench.post(f"{NEW}?pattern={pattern.pk}", sent).status_code == 302
    build = Build.objects.get()
    assert build.pattern == pattern
    assert build.spec_differs(pattern) == []


def test_changing_the_pattern_later_changes_nothing(bench: Client) -> None:
    pattern = make_pattern()
    build = make_build(pattern=pattern)
    before, figures = row(build), build.figures()
    pattern.scale, pattern.thickness = Decimal(635), Decimal("5.5")
    pattern.full_clean()
    pattern.save()
    build.refresh_from_db()
    assert row(build) == before
    assert build.figures() == figures
    assert build.spec_differs(pattern) == ["scale", "thickness"]


@pytest.mark.parametrize("pattern", ["", "0", "x", "-1", "9" * 30, "²", "1e3"])
def test_a_pattern_that_is_not_there_is_passed_over(bench: Client, pattern: str) -> None:
    assert bench.get(NEW, {"pattern": pattern}).status_code == 200


# Changing


def test_changing_a_build(bench: Client) -> None:
    build = make_build()
    answer = change(bench, build, title="Lark, twelve frets", thickness="6.2")
    assert answer.status_code == 302
    build.refresh_from_db()
    assert (build.title, build.thickness, build.version) == ("Lark, twelve frets", Decimal("6.2"), 1)


def test_saving_it_unchanged_changes_no_figure(bench: Client, shop: Shop) -> None:
    """Through the page and back, in every way of writing lengths."""
    for style in Lengths.values:
        shop.lengths = style
        shop.save()
        build = make_build(f"B-{style}", scale=Decimal("647.7"), nut_width=Decimal("42.862501"))
        before = row(build)
        form = bench.get(f"/builds/{build.number}/change/").context["form"]
        sent = {name: form[name].value() for name in form.fields if form[name].value() is not None}
        assert bench.post(f"/builds/{build.number}/change/", {**sent, **tap(seen="0")}).status_code == 302
        assert row(build) == {**before, "version": 1}


def test_a_tick_never_covers_another_value(bench: Client, maker: User) -> None:
    build, other = make_build(), make_wire("Tang 1.6", tang=Decimal("1.6"))
    make_blank(build, done=1)
    for changes, others in (({"thickness": "6.2"}, {"thickness": "6.4"}), ({"wire": other.pk}, {"thickness": "6.4"})):
        (question,) = change(bench, build, **changes).context["form"].questions
        assert change(bench, build, **others, sure=question.key).status_code == 422
        assert change(bench, build, **changes, sure=question.key).status_code == 302
        build.refresh_from_db()


def test_closed_ones_come_page_by_page(bench: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shop.buildlist.A_PAGE", 2)
    for number in ("B1", "B2", "B3"):
        make_build(number, closed_on=days_ago(1))
    pages = [bench.get("/builds/", {"show": "closed", "page": page}).content.decode() for page in (1, 2, 99)]
    assert "/builds/B1/" in pages[0] and "/builds/B3/" not in pages[0]
    assert "/builds/B3/" in pages[1] and "/builds/B3/" in pages[2], "past the last page is the last"
    assert "Page 1 of 2" in pages[0]


def test_two_people_change_it_at_once(bench: Client, other_bench: Client) -> None:
    build = make_build()
    assert change(bench, build, title="First").status_code == 302
    answer = change(other_bench, build, title="Second", remarks="Do not lose this")
    assert answer.status_code == 409
    text = answer.content.decode()
    assert "has changed B901 since you saw it" in text
    assert "Do not lose this" in text
    build.refresh_from_db()
    assert (build.title, build.version) == ("First", 1)


def test_what_cannot_be_leaves_the_build_as_it_is(bench: Client) -> None:
    build = make_build()
    before = row(build)
    for changes in ({"scale": "-1"}, {"radius_nut": "25"}, {"title": ""}, {"number": "a b"}, {"due_on": "1800-01-01"}):
        assert change(bench, build, **changes).status_code == 422
        assert row(build) == before
    for seen in ("", "x", "-1"):
        assert bench.post("/builds/B901/change/", payload(seen=seen)).status_code == 400
        assert row(build) == before


def test_a_spec_is_not_changed_under_a_board_unasked(bench: Client, maker: User) -> None:
    build = make_build()
    blank = make_blank(build, done=1)
    answer = change(bench, build, thickness="6.5")
    assert answer.status_code == 422
    (question,) = answer.context["form"].questions
    assert question.words == (
        f"{blank.number} is in work by the present spec. {blank.number}: It is 6.3 mm thick; B901 wants 6.8 mm. "
        "Change finished thickness all the same?"
    )
    assert change(bench, build, thickness="6.5", sure=question.key).status_code == 302


def test_what_was_cut_is_held_against_the_spec_as_it_would_be(bench: Client, maker: User) -> None:
    """One board is slotted, one only thicknessed, one fresh: the scale is at odds with the first alone."""
    build = make_build()
    slotted, thicknessed, fresh = (make_blank(build, done=done) for done in (2, 1, 0))
    answer = change(bench, build, scale="628")
    (question,) = answer.context["form"].questions
    assert question.words == (
        f"{slotted.number}, {thicknessed.number} are in work by the present spec. {slotted.number}: It is slotted for "
        f"a scale of 648 mm; B901 wants 628 mm. What was made of {thicknessed.number} goes with the change. "
        "Change scale length all the same?"
    )
    assert fresh.number not in question.words
    thinner = change(bench, build, thickness="5.8").context["form"].questions[0].words
    assert (
        f"{thicknessed.number}: It is 6.3 mm thick; B901 wants 6.1 mm. Send it back to thicknessing first." in thinner
    )


def test_a_board_that_was_sent_back_keeps_its_slots(bench: Client, maker: User) -> None:
    build = make_build()
    blank = make_blank(build, done=2)
    blank.rework(make_hand(), blank.version, "thicknessing", "Snipe")
    (question,) = change(bench, build, scale="628").context["form"].questions
    assert "slotted for a scale of 648 mm" in question.words


def test_another_route_takes_its_fresh_boards_along(bench: Client, maker: User) -> None:
    build, short = make_build(), make_route(["thicknessing", "gluing"])
    blank = make_blank(build)
    assert change(bench, build, route=short.pk).status_code == 302
    blank.refresh_from_db()
    assert (blank.stages, blank.next_stage) == (["thicknessing", "gluing"], "thicknessing")
    assert blank.log.last().kind == Kind.REROUTED


def test_another_route_is_refused_once_a_board_is_started(bench: Client, maker: User) -> None:
    build, short = make_build(), make_route(["thicknessing", "gluing"])
    blank = make_blank(build, done=1)
    before = row(build)
    asked = change(bench, build, route=short.pk)
    keys = [question.key for question in asked.context["form"].questions]
    answer = change(bench, build, route=short.pk, sure=keys)
    assert answer.status_code == 409
    assert "is thicknessed already" in answer.content.decode()
    assert row(build) == before
    blank.refresh_from_db()
    assert blank.version == blank.log.count() == 3


def test_a_scrapped_board_does_not_tie_its_build_down(bench: Client, maker: User) -> None:
    build, short = make_build(), make_route(["thicknessing", "gluing"])
    blank = make_blank(build, done=1)
    blank.scrap(make_hand(), blank.version, "Split")
    assert change(bench, build, thickness="6.5", route=short.pk).status_code == 302
    blank.refresh_from_db()
    assert blank.stages == build.route.stages, "what became of it stays as it was"


# Preview


def test_the_preview_draws_and_keeps_nothing(bench: Client) -> None:
    answer = bench.post("/builds/preview/", payload())
    assert "<svg" in answer.content.decode()
    assert not Build.objects.exists()


@pytest.mark.parametrize(
    "changes", [{"scale": ""}, {"radius_nut": "25"}, {"frets": "NaN"}, {"wire": ""}, {"scale": "9" * 50}]
)
def test_the_preview_stands_whatever_is_typed_so_far(bench: Client, changes: dict[str, str]) -> None:
    answer = bench.post("/builds/preview/", payload(**changes))
    assert answer.status_code == 200
    assert "<svg" not in answer.content.decode()
    assert bench.post("/builds/preview/", {}).status_code == 200


def test_an_unknown_build_is_not_found(bench: Client) -> None:
    for address in ("/builds/B999/", "/builds/B999/change/", "/builds/" + "x" * 500 + "/"):
        assert bench.get(address).status_code == 404
    assert bench.post("/builds/B999/deliver/", tap(seen=0)).status_code == 404


def test_the_wood_that_a_build_asks_for(bench: Client) -> None:
    plum = make_species("Plum")
    bench.post(NEW, payload(species=plum.pk))
    assert Build.objects.get().species == plum
