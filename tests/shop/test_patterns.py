"""Patterns: specs that the shop builds again and again."""

from decimal import Decimal

import pytest
from django.test import Client

from boards.models import Kind
from shop.models import Pattern, Route, User
from tests.factories import days_ago, make_blank, make_build, make_pattern, make_route, tap
from tests.shop.test_builds import payload as of_build

pytestmark = pytest.mark.django_db

NEW = "/kit/patterns/new/"


def payload(**changes: object) -> dict[str, object]:
    """A six-string board that raises no question."""
    spec = {name: value for name, value in of_build().items() if name in Pattern.SPEC}
    return tap(name="Lark", remarks="", seen=0, **spec) | changes


def row(pattern: Pattern) -> dict[str, object]:
    return Pattern.objects.filter(pk=pattern.pk).values().get()


def test_it_works(bench: Client) -> None:
    answer = bench.post(NEW, payload(), follow=True)
    pattern = Pattern.objects.get()
    assert answer.redirect_chain == [("/kit/", 302)]
    assert "Pattern Lark is kept." in answer.content.decode()
    assert (pattern.scale, pattern.radius_heel) == (Decimal(648), Decimal("304.8"))


def test_the_same_press_twice_is_one_pattern(bench: Client) -> None:
    sent = payload()
    bench.post(NEW, sent)
    bench.post(NEW, sent)
    assert Pattern.objects.count() == 1


def test_changing_it(bench: Client) -> None:
    pattern = make_pattern()
    assert bench.post(f"/kit/patterns/{pattern.pk}/", payload(thickness="6.4")).status_code == 302
    pattern.refresh_from_db()
    assert pattern.thickness == Decimal("6.4")


def test_two_people_at_once(bench: Client, other_bench: Client) -> None:
    pattern = make_pattern()
    assert bench.post(f"/kit/patterns/{pattern.pk}/", payload(thickness="6.4")).status_code == 302
    late = other_bench.post(f"/kit/patterns/{pattern.pk}/", payload(thickness="6.2", frets="21"))
    assert late.status_code == 409
    assert "6.2" in late.content.decode(), "what was typed is shown"
    pattern.refresh_from_db()
    assert (pattern.thickness, pattern.frets) == (Decimal("6.4"), 22)


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        *[("name", each) for each in ("", "  ", "x" * 81, "a\x00b")],
        *[("scale", each) for each in ("", "0", "-1", "NaN", "inf", "1e400")],
        *[("frets", each) for each in ("", "0", "61", "1e400")],
        ("radius_nut", "25"),
        ("remarks", "x" * 10_000),
        ("wire", ""),
    ],
)
def test_what_cannot_be_is_refused_beside_its_field(bench: Client, field: str, typed: str) -> None:
    pattern = make_pattern("Kept")
    before = row(pattern)
    for address in (NEW, f"/kit/patterns/{pattern.pk}/"):
        answer = bench.post(address, payload(**{field: typed}))
        assert answer.status_code == 422
        form = answer.context["form"]
        assert form.errors.get(field)
        assert form[field].value() == typed
        assert row(pattern) == before
        assert Pattern.objects.count() == 1


def test_two_patterns_cannot_share_a_name(bench: Client) -> None:
    make_pattern("Lark")
    answer = bench.post(NEW, payload())
    assert answer.status_code == 422
    assert answer.context["form"].errors["name"]


def test_a_name_taken_in_the_same_moment(bench: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    """The form has found the name free; before it saves, somebody else has taken it."""
    make_pattern("Lark")
    monkeypatch.setattr(Pattern, "validate_unique", lambda self, exclude=None: None)
    answer = bench.post(NEW, payload())
    assert answer.status_code == 409
    assert "There is a pattern Lark already" in answer.content.decode()
    assert Pattern.objects.count() == 1


def test_a_spec_stays_while_a_board_is_cut_by_it(bench: Client, maker: User) -> None:
    pattern = make_pattern()
    blank = make_blank(pattern, done=1)
    before = row(pattern)
    answer = bench.post(f"/kit/patterns/{pattern.pk}/", payload(thickness="6.4"))
    assert answer.status_code == 422
    assert f"{blank.number} is in work by this pattern" in str(answer.context["form"].errors["thickness"])
    assert row(pattern) == before
    assert bench.post(f"/kit/patterns/{pattern.pk}/", payload(remarks="A word")).status_code == 302


def test_another_route_takes_its_fresh_boards_along(bench: Client, maker: User) -> None:
    pattern, short = make_pattern(), make_route(["thicknessing", "gluing"])
    blank = make_blank(pattern)
    assert bench.post(f"/kit/patterns/{pattern.pk}/", payload(route=short.pk)).status_code == 302
    blank.refresh_from_db()
    assert blank.stages == ["thicknessing", "gluing"]
    assert blank.log.last().kind == Kind.REROUTED


def test_builds_keep_their_copy(bench: Client) -> None:
    pattern = make_pattern()
    build = make_build(pattern=pattern)
    bench.post(f"/kit/patterns/{pattern.pk}/", payload(thickness="6.4"))
    build.refresh_from_db()
    assert build.thickness == Decimal(6)


def test_figures_that_builds_rely_on_stay(other_bench: Client) -> None:
    build = make_build()
    for thing, changes in (
        ("fretwire", {"name": build.wire.name, "tang": "1.9", "kerf": "0.55"}),
        ("route", {"name": build.route.name, "stages": "gluing", "place": "1"}),
    ):
        pk = build.wire_id if thing == "fretwire" else build.route_id
        answer = other_bench.post(f"/admin/shop/{thing}/{pk}/change/", changes)
        assert answer.status_code == 200
        assert "Builds rely on this figure." in answer.content.decode()
    build.refresh_from_db()
    assert build.wire.tang == Decimal("1.5")


def test_a_route_needs_known_stages_once_each(other_bench: Client) -> None:
    before = Route.objects.count()
    for stages in ("", "polishing", "gluing\ngluing", "thicknessing\nx"):
        answer = other_bench.post("/admin/shop/route/add/", {"name": "New", "stages": stages, "place": "1"})
        assert answer.status_code == 200
        assert "errorlist" in answer.content.decode()
    assert Route.objects.count() == before
    good = {"name": "New", "stages": " Thicknessing \n\ngluing", "place": "1"}
    assert other_bench.post("/admin/shop/route/add/", good).status_code == 302
    assert Route.objects.get(name="New").stages == ["thicknessing", "gluing"]


def test_an_unknown_pattern_is_not_found(bench: Client) -> None:
    for pk in ("0", "99", "9" * 30):
        assert bench.get(f"/kit/patterns/{pk}/").status_code == 404


# Copied, used, held beside one another


def test_a_copy_starts_with_the_measures_and_needs_a_name(bench: Client) -> None:
    lark = make_pattern(scale=Decimal(635), frets=24)
    form = bench.get(NEW, {"copy": lark.pk}).context["form"]
    assert (Decimal(form["scale"].value()), form["frets"].value(), form["name"].value()) == (635, 24, "")
    typed = {name: form[name].value() for name in form.fields if form[name].value() is not None}
    assert bench.post(f"{NEW}?copy={lark.pk}", {**typed, **tap(seen=0)}).status_code == 422, "no name yet"
    assert bench.post(f"{NEW}?copy={lark.pk}", {**typed, "name": "Lark, long", **tap(seen=0)}).status_code == 302
    assert Pattern.objects.get(name="Lark, long").spec_differs(lark) == []
    for asked in ("", "999", "x", "²", "9" * 30):
        assert bench.get(NEW, {"copy": asked}).status_code == 200


def test_its_page_says_who_uses_it(bench: Client, maker: User) -> None:
    lark = make_pattern()
    make_build("B1", pattern=lark)
    make_build("B2", pattern=lark, thickness=Decimal("6.4"))
    make_build("B3", pattern=lark, closed_on=days_ago(3))
    at_work, done = make_blank(lark, done=1), make_blank(lark, done=5)
    used = bench.get(f"/kit/patterns/{lark.pk}/").context["used"]
    assert [(build.number, differs) for build, differs in used.open] == [("B1", ""), ("B2", "finished thickness")]
    assert (used.closed_count, used.last_closed.number) == (1, "B3")
    assert (used.boards, used.boards_count, used.done_count) == ([at_work], 1, 1)
    page = bench.get(f"/kit/patterns/{lark.pk}/").content.decode()
    assert "1 delivered or cancelled" in page and at_work.number in page and done.number not in page


def test_two_beside_one_another_show_first_what_differs(bench: Client) -> None:
    lark, wren = make_pattern(), make_pattern("Wren", scale=Decimal("635"), frets=24, radius_nut=None, radius_heel=None)
    answer = bench.get("/kit/patterns/compare/", {"first": lark.pk, "second": wren.pk})
    said = {each.label: (each.first, each.second, each.by) for each in answer.context["differing"]}
    assert said["Scale length"] == ("648.0 mm", "635.0 mm", "13.00 mm less")
    assert said["Frets"] == ("22", "24", "")
    assert said["Radius at the nut"] == ("304.8 mm", "flat", "")
    assert "Blank needed, length" in said
    assert "Finished thickness" in {each.label for each in answer.context["alike"]}
    assert answer.content.decode().count("<svg") >= 3


def test_two_alike_differ_in_nothing(bench: Client) -> None:
    pair = {"first": make_pattern().pk, "second": make_pattern("Wren").pk}
    assert "In nothing: all their measures are alike." in bench.get("/kit/patterns/compare/", pair).content.decode()


@pytest.mark.parametrize("second", ["", "999", "x", "a\x00b", "9" * 400, "same"])
def test_two_that_cannot_be_compared_are_refused_beside_the_box(bench: Client, second: str) -> None:
    lark = make_pattern()
    asked = {"first": lark.pk, "second": lark.pk if second == "same" else second}
    answer = bench.get("/kit/patterns/compare/", asked)
    assert answer.status_code == 422
    assert answer.context["form"].errors["second"]
    assert bench.get("/kit/patterns/compare/").status_code == 200
