"""Gauging the curve of a board, and what of it is kept."""

from __future__ import annotations

import math
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from boards.models import Blank, Kind, replay
from shop.models import Shop, User
from tests.factories import ON_NECK, good_readings, make_blank, make_build, make_hand, make_pattern, make_route, press

pytestmark = pytest.mark.django_db

RADIUS = 304.8


def url(blank: Blank) -> str:
    return f"/blanks/{blank.number}/gauge/"


def on_circle(y: float, radius: float = RADIUS, offset: float = 0.0, apex: float = 6.15) -> str:
    """Height of a circle, from its equation."""
    return f"{apex - radius + math.sqrt(radius**2 - (y - offset) ** 2):.4f}"


def across(station: str = "nut", radius: float = RADIUS, offset: float = 0.0, reach: int = 32) -> dict[str, str]:
    """What five readings across a station are, in the boxes of the form."""
    typed = {}
    for k, y in enumerate((-reach, -reach // 2, 0, reach // 2, reach)):
        typed |= {f"{station}_y{k}": str(y), f"{station}_z{k}": on_circle(y, radius, offset)}
    return typed


@pytest.fixture
def blank(maker: User) -> Blank:
    return make_blank(make_build(), done=3)


def test_the_page_has_boxes_at_sensible_places(bench: Client, blank: Blank) -> None:
    """The blank is 70 wide until it is tapered: the outermost readings lie 3 inside its edges."""
    page = bench.get(url(blank)).content.decode()
    for value in ("-32", "-16", "0", "16", "32"):
        assert f'value="{value}"' in page
    assert page.count("data-reading=") == 3 * 5 + 4
    assert "radius 304.8 mm" in page
    tapered = make_blank(make_build("B902"), done=4)
    form = bench.get(url(tapered)).context["form"]
    assert not form.has_corners
    assert [station.wide for station in form.stations] == pytest.approx([49, 56, 63])  # 43 to 57, 3 proud each side


def test_a_true_circle_is_read_as_what_it_is(bench: Client, blank: Blank) -> None:
    answer = bench.post(url(blank), press(blank, do="read", points="5", **across(radius=290, offset=1.5)))
    assert answer.status_code == 200
    (found,) = answer.context["form"].found
    assert found.reading.radius == pytest.approx(290, abs=0.5)
    assert found.reading.offset == pytest.approx(1.5, abs=0.01)
    assert found.reading.apex == pytest.approx(6.15, abs=0.001)
    page = answer.content.decode()
    assert "1.50 mm" in page and "to the treble" in page and "middle 1.50 to the treble" in page
    assert "Rework" in page and "Look for shavings" in page
    blank.refresh_from_db()
    assert blank.log.filter(kind=Kind.GAUGED).count() == 0, "reading keeps nothing"


def test_a_good_curve_passes(bench: Client, blank: Blank) -> None:
    sent = press(blank, do="read", points="5", **across(), **across("middle"), **across("heel"))
    answer = bench.post(url(blank), sent)
    assert answer.context["form"].judgement.verdict == "pass"
    assert len(answer.context["form"].found) == 3
    assert "Keep it in the log" in answer.content.decode()
    assert "hold-for" not in answer.content.decode()


def test_what_was_typed_stays_in_its_boxes(bench: Client, blank: Blank) -> None:
    typed = across() | {"nut_z0": "4.44mm", "head_bass": "4.1"}
    answer = bench.post(url(blank), press(blank, do="read", points="5", **typed))
    assert answer.status_code == 422
    form = answer.context["form"]
    assert form["nut_z0"].value() == "4.44mm" and form["head_bass"].value() == "4.1"
    assert form.errors["head_treble"] == ["All four corners, or none."]


def test_corners_alone_are_enough(bench: Client, blank: Blank) -> None:
    corners = {"head_treble": "4.12", "head_bass": "3.90", "heel_treble": "4.00", "heel_bass": "4.02"}
    answer = bench.post(url(blank), press(blank, do="read", points="5", **corners))
    assert answer.status_code == 200
    found = answer.context["form"].judgement
    assert found.verdict == "rework" and len(found.views) == 2
    assert "thicker at the treble side" in answer.content.decode()


def test_it_is_kept_in_the_log_and_changes_nothing_else(bench: Client, blank: Blank, maker: User) -> None:
    before = blank.state
    sent = press(blank, do="keep", points="5", **across(offset=0.8))
    answer = bench.post(url(blank), sent)
    assert answer.status_code == 302 and answer["Location"] == f"/blanks/{blank.number}/"
    blank.refresh_from_db()
    entry = blank.log.last()
    assert (entry.kind, entry.by, entry.stage) == (Kind.GAUGED, maker, "")
    assert entry.readings["nut -32"] == str(Decimal(on_circle(-32, offset=0.8)).normalize())
    assert entry.reason.startswith("Rework. Nut: radius 304.8 mm, its middle 0.8 mm to the treble.")
    assert blank.state == before == replay(blank.log.order_by("number"))[0]
    assert blank.version == blank.log.count()
    call_command("check_log", stdout=StringIO())
    assert bench.post(url(blank), sent).status_code == 302, "a second delivery"
    assert blank.log.filter(kind=Kind.GAUGED).count() == 1


def test_what_was_done_before_can_still_be_taken_back(bench: Client, blank: Blank) -> None:
    bench.post(url(blank), press(blank, do="keep", points="5", **across()))
    blank.refresh_from_db()
    last = blank.last_undoable()
    assert (last.kind, last.stage) == (Kind.FINISHED, "radiusing")
    assert bench.post(f"/blanks/{blank.number}/undo/{last.number}/", press(blank)).status_code == 302
    blank.refresh_from_db()
    assert blank.done == ["thicknessing", "slotting"]
    call_command("check_log", stdout=StringIO())


def test_what_was_kept_is_shown_again(bench: Client, blank: Blank) -> None:
    corners = {"head_treble": "4.0", "head_bass": "4.0", "heel_treble": "4.0", "heel_bass": "4.0"}
    sent = press(blank, do="keep", points="5", **across("heel", offset=-0.7), **corners)
    bench.post(url(blank), sent)
    entry = blank.log.last()
    page = bench.get(f"/blanks/{blank.number}/").content.decode()
    assert f"/gauge/?entry={entry.number}" in page and "Gauged: Rework. Heel: radius 304.8 mm" in page
    again = bench.get(f"{url(blank)}?entry={entry.number}")
    (found,) = again.context["form"].found
    assert found.station.key == "heel" and found.reading.offset == pytest.approx(-0.7, abs=0.01)
    assert len(again.context["form"].judgement.views) == 2
    assert "As it was gauged by Ida Bracken" in again.content.decode()
    for nothing in ("999", "x", "-1", "1", "²", "9" * 40):
        assert bench.get(url(blank), {"entry": nothing}).status_code == 404, nothing


def test_the_loser_of_a_race_is_told(bench: Client, other_bench: Client, blank: Blank) -> None:
    sent = press(blank, do="keep", points="5", **across())
    other_bench.post(url(blank), press(blank, do="keep", points="5", **across()))
    answer = bench.post(url(blank), sent)
    assert answer.status_code == 409
    assert "Nell Harrow has changed" in answer.content.decode()
    assert blank.log.filter(kind=Kind.GAUGED).count() == 1


def test_a_scrapped_board_keeps_no_more(bench: Client, blank: Blank) -> None:
    blank.scrap(make_hand(), blank.version, "Split")
    assert "Keep it" not in bench.post(url(blank), press(blank, do="read", points="5", **across())).content.decode()
    assert bench.post(url(blank), press(blank, do="keep", points="5", **across())).status_code == 409


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"nut_z3": "", "nut_z4": "", "nut_z2": ""}, "nut_z2", "three readings at least"),
        ({"nut_y1": ""}, "nut_y1", "Say where across the board"),
        ({"nut_y1": "-36"}, "nut_y1", "beyond the edge: the board is 70.00 mm wide"),
        ({f"nut_z{k}": "5" for k in range(5)}, "nut_z0", "straight line"),
        ({f"nut_y{k}": "5" for k in range(5)}, "nut_z0", "straight line"),
        ({"nut_z1": "six"}, "nut_z1", "cannot be read"),
        ({"nut_z1": "9" * 5000}, "nut_z1", "long"),
        ({"nut_z1": "5\x00"}, "nut_z1", "not a unit"),
        ({"nut_y1": "1e400"}, "nut_y1", "read"),
        ({"nut_y1": "NaN"}, "nut_y1", "read"),
        ({"nut_z1": "\U0001f4cf"}, "nut_z1", "read"),
    ],
)
def test_what_is_wrong_stands_beside_its_box(
    bench: Client, blank: Blank, changes: dict[str, str], field: str, words: str
) -> None:
    for do in ("read", "keep"):
        answer = bench.post(url(blank), press(blank, do=do, points="5", **(across() | changes)))
        assert answer.status_code == 422
        errors = answer.context["form"].errors
        assert set(errors) == {field} and words in errors[field][0]
        assert answer.context["form"]["nut_z0"].value() == (across() | changes)["nut_z0"]
    assert blank.log.filter(kind=Kind.GAUGED).count() == 0


def test_nothing_typed_is_said_to_be_nothing(bench: Client, blank: Blank) -> None:
    answer = bench.post(url(blank), press(blank, do="read", points="5"))
    assert answer.status_code == 422
    assert "Nothing is read yet" in answer.content.decode()


@pytest.mark.parametrize(
    "zs", [("0",) * 3, ("99999", "0", "1"), ("-5", "0", "-5"), ("0", "-6", "0"), ("1e-9", "0", "0")]
)
def test_points_that_no_board_has_are_read_or_refused(bench: Client, blank: Blank, zs: tuple[str, ...]) -> None:
    typed = {f"nut_z{k}": z for k, z in enumerate(zs)} | {f"nut_y{k}": str(y) for k, y in enumerate((-20, 0, 20))}
    answer = bench.post(url(blank), press(blank, do="read", points="3", **typed))
    assert answer.status_code in (200, 422)
    assert "nan" not in answer.content.decode().lower().replace("finance", "")


def test_heights_from_above_may_lie_below_nothing(bench: Client, blank: Blank) -> None:
    """A depth gauge is zeroed on the middle: all else reads less."""
    typed = {f"nut_z{k}": on_circle(y, apex=0.0) for k, y in enumerate((-32, -16, 0, 16, 32))}
    places = {name: value for name, value in across().items() if "_y" in name}
    answer = bench.post(url(blank), press(blank, do="read", points="5", **typed, **places))
    assert answer.context["form"].found[0].reading.radius == pytest.approx(RADIUS, abs=0.5)


def test_another_number_of_points_keeps_what_was_typed(bench: Client, blank: Blank) -> None:
    answer = bench.post(url(blank), press(blank, do="points", points="9", **across()))
    form = answer.context["form"]
    assert answer.status_code == 200 and form.count == 9
    assert form["nut_z4"].value() == across()["nut_z4"] and form["nut_y1"].value() == "-16"
    assert form["heel_y1"].value() == "-24", "a station that is not begun has its places spread anew"
    assert bench.post(url(blank), press(blank, do="points", points="400")).context["form"].count == 5


def test_a_board_without_a_spec_has_a_radius_to_read_all_the_same(bench: Client, maker: User) -> None:
    blank = make_blank()
    answer = bench.post(url(blank), press(blank, do="read", points="5", **across()))
    assert answer.status_code == 200
    assert answer.context["form"].found[0].reading.radius == pytest.approx(RADIUS, abs=0.5)
    assert not answer.context["form"].corner_boxes


def test_a_board_on_its_neck_is_gauged_from_above(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(route=make_route(ON_NECK)), done=4)
    assert "Gauge the curve" in bench.get(f"/benches/radiusing/?board={blank.number}").content.decode()
    answer = bench.post(url(blank), press(blank, do="read", points="5", **across(reach=20)))
    assert answer.status_code == 200 and not answer.context["form"].corner_boxes


def test_a_flat_board_that_is_round_is_told(bench: Client, maker: User) -> None:
    flat = make_blank(make_build(radius_nut=None, radius_heel=None), done=3)
    answer = bench.post(url(flat), press(flat, do="read", points="5", **across()))
    assert "it should be flat" in answer.content.decode()


def test_inches_are_read_and_written(bench: Client, shop: Shop, blank: Blank) -> None:
    shop.lengths = "fraction"
    shop.save()
    page = bench.get(url(blank)).content.decode().replace("\u00a0", " ")
    assert 'value="-1 1/4"' in page and "radius 12 in" in page
    answer = bench.post(url(blank), press(blank, do="read", points="5", **{
        name: f"{value} mm" for name, value in across().items()
    }))  # fmt: skip
    assert answer.status_code == 200 and "12 in" in answer.content.decode().replace("\u00a0", " ")


def test_a_board_is_held_against_what_it_had_to_be_when_it_came_to_the_jig(bench: Client, maker: User) -> None:
    """Radiused 0.3 too thin, its figures count from there; its corners still have to be those that were asked for."""
    blank = make_blank(make_build(), done=2)
    asked = good_readings(blank)
    blank.finish(make_hand(), blank.version, "radiusing", {**asked, "centre": asked["centre"] - Decimal("0.3")})
    form = bench.get(url(blank)).context["form"]
    assert form.board.result.corners.head == pytest.approx(float(asked["head_bass"]) - 0.3, abs=0.01)
    assert form.aim.corners.head == pytest.approx(float(asked["head_bass"]), abs=0.01)
    assert f"{asked['head_bass']:.2f} at the head" in bench.get(url(blank)).content.decode()


def test_the_way_there_and_back(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=2)
    page = bench.get(f"/benches/radiusing/?board={blank.number}").content.decode()
    there = f"/blanks/{blank.number}/gauge/?then=/benches/radiusing/"
    assert there in page
    assert 'name="then" value="/benches/radiusing/"' in bench.get(there).content.decode()
    sent = press(blank, do="keep", points="5", then="/benches/radiusing/", **across())
    assert bench.post(url(blank), sent)["Location"] == "/benches/radiusing/"
    blank.refresh_from_db()
    sent = press(blank, do="keep", points="5", then="https://elsewhere.example/", **across())
    assert bench.post(url(blank), sent)["Location"] == f"/blanks/{blank.number}/"


def test_there_is_no_such_blank(bench: Client, client: Client) -> None:
    assert bench.get("/blanks/F9999/gauge/").status_code == 404
    assert bench.put(url(make_blank())).status_code == 405
    assert client.get("/blanks/F0001/gauge/").status_code == 302


def test_the_page_costs_no_more_where_much_was_gauged(bench: Client, maker: User) -> None:
    blank = make_blank(make_pattern(), done=3)
    bench.get(url(blank))
    with CaptureQueriesContext(connection) as few:
        bench.get(url(blank))
    for _ in range(8):
        bench.post(url(blank), press(blank, do="keep", points="5", **across()))
        blank.refresh_from_db()
    with CaptureQueriesContext(connection) as many:
        bench.get(url(blank))
    assert len(many) == len(few)
