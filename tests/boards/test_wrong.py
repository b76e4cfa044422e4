"""When something is wrong with a blank: hold, let go on, send back, scrap, measure again."""

from decimal import Decimal

import pytest
from django.test import Client

from boards.models import Blank, Condition, Kind
from shop.models import User
from tests.factories import make_blank, make_build, make_hand, press

pytestmark = pytest.mark.django_db


def post(client: Client, blank: Blank, what: str, **typed: object) -> object:
    return client.post(f"/blanks/{blank.number}/{what}/", press(blank, **typed))


def unchanged(blank: Blank) -> bool:
    now = Blank.objects.get(pk=blank.pk)
    same_size = (now.length, now.width, now.thickness) == (blank.length, blank.width, blank.thickness)
    return same_size and now.state == blank.state and now.version == blank.version == now.log.count()


@pytest.fixture
def blank(maker: User) -> Blank:
    return make_blank(make_build(), done=2)


def test_it_works(bench: Client, blank: Blank, maker: User) -> None:
    assert post(bench, blank, "hold", **{"hold-reason": "A shake at the heel"}).status_code == 302
    blank.refresh_from_db()
    assert blank.condition == Condition.HELD
    page = bench.get(f"/blanks/{blank.number}/").content.decode()
    assert f"{blank.number} is held." in page
    assert page.count("A shake at the heel") == 2, "where it is decided, and in the log"
    assert blank.number not in bench.get("/benches/radiusing/").content.decode()
    assert blank.number in bench.get("/").content.decode(), "it waits for a decision"
    assert post(bench, blank, "release").status_code == 302
    blank.refresh_from_db()
    assert blank.condition == Condition.ACTIVE
    assert [(e.kind, e.reason, e.by) for e in list(blank.log.all())[-2:]] == [
        (Kind.HELD, "A shake at the heel", maker),
        (Kind.RELEASED, "", maker),
    ]


def test_sending_back(bench: Client, blank: Blank) -> None:
    sent = {"rework-stage": "thicknessing", "rework-reason": "Snipe at the head"}
    assert post(bench, blank, "rework", **sent).status_code == 302
    blank.refresh_from_db()
    assert (blank.done, blank.next_stage) == ([], "thicknessing")
    assert blank.log.last().words == "Sent back to thicknessing"


def test_sending_back_lets_a_held_board_go_on(bench: Client, blank: Blank) -> None:
    blank.hold(make_hand(), blank.version, "Slots too shallow")
    post(bench, blank, "rework", **{"rework-stage": "slotting", "rework-reason": "Saw them again"})
    blank.refresh_from_db()
    assert (blank.condition, blank.done, blank.next_stage) == (Condition.ACTIVE, ["thicknessing"], "slotting")


@pytest.mark.parametrize("stage", ["", "radiusing", "gluing", "nothing", "x" * 500])
def test_it_cannot_go_back_to_where_it_has_not_been(bench: Client, blank: Blank, stage: str) -> None:
    answer = post(bench, blank, "rework", **{"rework-stage": stage, "rework-reason": "So it is"})
    assert answer.status_code == 422
    assert answer.context["rework_form"].errors["stage"]
    assert answer.context["rework_form"]["reason"].value() == "So it is"
    assert unchanged(blank)


def test_nothing_done_nothing_to_go_back_to(bench: Client, maker: User) -> None:
    blank = make_blank(make_build())
    assert post(bench, blank, "rework", **{"rework-stage": "thicknessing", "rework-reason": "x"}).status_code == 422
    assert unchanged(blank)


def test_scrapping(bench: Client, blank: Blank) -> None:
    assert post(bench, blank, "scrap", **{"scrap-reason": "Torn through"}).status_code == 302
    blank.refresh_from_db()
    assert blank.condition == Condition.SCRAPPED
    page = bench.get(f"/blanks/{blank.number}/").content.decode()
    assert "Torn through" in page
    for what, typed in (
        ("hold", {"hold-reason": "x"}),
        ("scrap", {"scrap-reason": "x"}),
        ("release", {}),
        ("rework", {"rework-stage": "slotting", "rework-reason": "x"}),
    ):
        assert post(bench, blank, what, **typed).status_code == 409
        assert unchanged(blank)


@pytest.mark.parametrize("what", ["hold", "rework", "scrap"])
@pytest.mark.parametrize("reason", [None, "", "   ", "\n", "x" * 2001, "x" * 10_000, "a\x00b"])
def test_a_reason_is_asked_for(bench: Client, blank: Blank, what: str, reason: str | None) -> None:
    typed = {f"{what}-stage": "slotting"} | ({} if reason is None else {f"{what}-reason": reason})
    answer = post(bench, blank, what, **typed)
    assert answer.status_code == 422
    form = answer.context[f"{what}_form"]
    assert set(form.errors) == {"reason"}
    assert form["reason"].value() == reason
    assert unchanged(blank)


def test_a_board_is_held_once(bench: Client, blank: Blank) -> None:
    post(bench, blank, "hold", **{"hold-reason": "A shake"})
    blank.refresh_from_db()
    assert post(bench, blank, "hold", **{"hold-reason": "Another"}).status_code == 409
    assert unchanged(blank)


def test_what_is_not_held_cannot_be_let_go(bench: Client, blank: Blank) -> None:
    answer = post(bench, blank, "release")
    assert answer.status_code == 409
    assert "is not held" in answer.content.decode()
    assert unchanged(blank)


def test_a_long_reason_is_kept_whole_and_shown_as_typed(bench: Client, blank: Blank) -> None:
    reason = "<script>alert(1)</script> & " + "wood " * 380
    assert post(bench, blank, "hold", **{"hold-reason": reason}).status_code == 302
    assert blank.log.last().reason == reason.strip()
    page = bench.get(f"/blanks/{blank.number}/").content.decode()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp;" in page


def test_the_loser_of_a_race_keeps_what_was_typed(bench: Client, other_bench: Client, blank: Blank) -> None:
    seen = blank.version
    post(bench, blank, "hold", **{"hold-reason": "A shake"})
    answer = other_bench.post(
        f"/blanks/{blank.number}/scrap/", press(blank) | {"seen": seen, "scrap-reason": "Torn along the whole edge"}
    )
    assert answer.status_code == 409
    assert f"Ida Bracken has changed {blank.number} since you saw it: held." in answer.content.decode()
    assert "Torn along the whole edge" in answer.content.decode()


# Measuring again


def test_measuring_again(bench: Client, blank: Blank) -> None:
    assert post(bench, blank, "measure", length="20 1/2 in", width="69", thickness="8.2").status_code == 302
    blank.refresh_from_db()
    assert (blank.length, blank.width, blank.thickness) == (Decimal("520.7"), Decimal(69), Decimal("8.2"))
    entry = blank.log.last()
    assert entry.kind == Kind.MEASURED
    assert entry.readings == {"length": "530", "width": "70", "thickness": "8.5"}, "the size before"


@pytest.mark.parametrize(
    ("field", "typed"),
    [
        (field, typed)
        for field in ("length", "thickness")
        for typed in ("", "0", "-5", "NaN", "inf", "1e400", "8,5,1", "<b>", "9" * 60)
    ],
)
def test_a_size_that_cannot_be_is_refused(bench: Client, blank: Blank, field: str, typed: str) -> None:
    sizes = {"length": "530", "width": "70", "thickness": "8.5"} | {field: typed}
    answer = post(bench, blank, "measure", **sizes)
    assert answer.status_code == 422
    form = answer.context["measure_form"]
    assert set(form.errors) == {field}
    assert form[field].value() == typed
    assert unchanged(blank)


def test_an_odd_size_is_asked_about(bench: Client, blank: Blank) -> None:
    typed = {"length": "530", "width": "70", "thickness": "85"}
    answer = post(bench, blank, "measure", **typed)
    assert answer.status_code == 422
    (question,) = answer.context["measure_form"].questions
    assert question.words == "Thickness 85.00 mm: usual is 5.00 mm to 13.00 mm."
    assert unchanged(blank)
    assert post(bench, blank, "measure", **typed, sure=question.key).status_code == 302


@pytest.mark.parametrize(
    "typed", [{"length": "100000"}, {"width": "9000"}, {"thickness": "0.000001"}, {"thickness": "900"}]
)
def test_a_size_beyond_all_boards_leaves_every_page_standing(
    bench: Client, blank: Blank, typed: dict[str, str]
) -> None:
    sizes = {"length": "530", "width": "70", "thickness": "8.5"} | typed
    answer = post(bench, blank, "measure", **sizes)
    keys = [question.key for question in answer.context["measure_form"].questions]
    assert post(bench, blank, "measure", **sizes, sure=keys).status_code == 302
    for page in ("/", "/rack/", "/benches/radiusing/", f"/blanks/{blank.number}/", "/builds/", "/builds/B901/"):
        assert bench.get(page).status_code == 200, page
