"""The life of a build: what happened to it and its boards in one order, as a drawing and as a table."""

from datetime import date, timedelta
from xml.etree import ElementTree as ET

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.life import change_words, story_of
from boards.models import KeptForecast
from geometry.units import LengthStyle
from shop.drawings.lifeline import NAMES, WIDE, Lane, Life, Told, draw_life
from shop.models import Build, User
from tests.factories import days_ago, good_readings, make_blank, make_blanks, make_build, make_hand

pytestmark = pytest.mark.django_db


def hand(ago: int) -> object:
    return make_hand(at=timezone.now() - timedelta(days=ago))


def told(build: Build) -> list[tuple[str, str]]:
    return [(event.of, event.words) for event in story_of(build, today=days_ago(0)).events]


def lived(number: str = "B901") -> Build:
    build = make_build(number, due_on=days_ago(-9))
    build.write_down(hand(30))
    (blank,) = make_blanks(hand=hand(60))
    blank.put_to(hand(20), blank.version, build)
    blank.finish(hand(10), blank.version, "thicknessing", good_readings(blank))
    build.hold(hand(8), build.version, "No deposit")
    build.note(hand(7), "Rang")
    build.let_go_on(hand(6), build.version)
    return build


def test_everything_stands_in_its_order(maker: User) -> None:
    build = lived()
    board = build.blanks.get().number
    assert told(build) == [
        ("", "Written down"),
        (board, "Put to it"),
        (board, "Thicknessed"),
        ("", "Held"),
        ("", "Note"),
        ("", "Goes on"),
    ]
    story = story_of(build, today=days_ago(0))
    assert [event.number for event in story.events] == [1, 2, 3, 4, 5, 6]
    assert [note.text for note in story.notes] == ["Rang"]
    whole, lane = story.life.lanes
    assert (whole.start, whole.end, whole.held) == (days_ago(30), days_ago(0), [(days_ago(8), days_ago(6))])
    assert (lane.start, [number for _, number in lane.marks]) == (days_ago(20), [2, 3])


def test_what_happens_to_a_board_elsewhere_is_not_told(maker: User) -> None:
    build, other = make_build("B1"), make_build("B2")
    blank = make_blank(build)
    blank.take_off(make_hand(), blank.version)
    blank.put_to(make_hand(), blank.version, other)
    blank.hold(make_hand(), blank.version, "A shake")
    assert told(build) == [(blank.number, "Put to it"), (blank.number, "Taken off")]
    assert told(other) == [(blank.number, "Put to it"), (blank.number, "Held")]


def test_what_was_taken_back_is_not_told(maker: User) -> None:
    build = make_build()
    blank = make_blank(build, done=1)
    blank.undo(make_hand(), blank.version, blank.last_undoable())
    assert told(build) == [(blank.number, "Put to it")]


def test_a_scrapped_board_is_broken_and_ends_there(maker: User) -> None:
    build = make_build()
    blank = make_blank(build, done=1, hand=hand(9))
    blank.scrap(hand(4), blank.version, "Split")
    lane = story_of(build, today=days_ago(0)).life.lanes[1]
    assert (lane.broken, lane.end) == (True, days_ago(4))


def test_a_forecast_is_told_when_it_changes(maker: User) -> None:
    build = lived()
    for ago, day in ((9, 5), (8, 5), (7, 8), (6, 5), (5, 5)):
        KeptForecast.objects.create(build=build, made_on=days_ago(ago), dates={"85": days_ago(-day).isoformat()})
    KeptForecast.objects.create(build=build, made_on=days_ago(4), dates={})
    found = story_of(build, today=days_ago(0)).forecasts
    assert [(each.made, each.day) for each in found] == [
        (days_ago(9), days_ago(-5)),
        (days_ago(7), days_ago(-8)),
        (days_ago(6), days_ago(-5)),
    ]


def test_days_promised_before_are_kept(bench: Client) -> None:
    from tests.shop.test_builds import change

    build = make_build(due_on=days_ago(-9))
    assert change(bench, build, due_on=days_ago(-20).isoformat(), thickness="6.2").status_code == 302
    build.refresh_from_db()
    story = story_of(build, today=days_ago(0))
    assert story.life.promised == [days_ago(-9), days_ago(-20)]
    (event,) = story.events
    assert "Finished thickness: 6.20 mm, was 6.00 mm." in event.text
    assert event.text.startswith("What it is") or "Due: " in event.text


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"due_on": [None, "2026-05-03"]}, "Due: 3 May 2026, was nothing."),
        ({"neck_joint": ["glued", "bolted"]}, "Neck: Bolted on, was Glued in."),
        ({"boards_wanted": [1, 2]}, "Boards alike: 2, was 1."),
        ({"scale": ["648", "628"]}, "Scale length: 24.724 in, was 25.512 in."),  # 628 / 25.4, 648 / 25.4
    ],
)
def test_changes_in_words(changes: dict, said: str) -> None:
    assert change_words(changes, LengthStyle.INCH_DECIMAL) == said


def test_the_page_draws_and_tells_it(bench: Client, maker: User) -> None:
    build = lived()
    page = bench.get(f"/builds/{build.number}/").content.decode()
    for words in ("Its life", "The life of B901", "6 things happened to it", "Put to it", "No deposit", "Rang"):
        assert words in page


def test_a_build_that_nothing_was_written_of_has_a_page(bench: Client) -> None:
    make_build()
    assert "Nothing has happened to it that was written down." in bench.get("/builds/B901/").content.decode()


def test_a_long_life_costs_no_more_queries(maker: User) -> None:
    short, long = lived("B1"), lived("B2")
    for _ in range(4):
        blank = make_blank(long, done=5)
        long.note(make_hand(), f"With {blank}")
    costs = []
    for build in (short, long):
        with CaptureQueriesContext(connection) as captured:
            story_of(Build.objects.get(pk=build.pk), today=days_ago(0))
        costs.append(len(captured))
    assert costs[0] == costs[1] <= 5


# The drawing


def lines(svg: str) -> list[ET.Element]:
    return [each for each in ET.fromstring(svg).iter() if each.tag.endswith("line")]


def test_days_are_drawn_to_scale() -> None:
    first = date(2026, 3, 2)
    lane = Lane("B1", first, first + timedelta(days=100), marks=[(first + timedelta(days=50), 1)])
    svg = draw_life(Life([lane], [], [], first + timedelta(days=100)), "Life", say="It")
    xs = sorted({float(each.get("x1")) for each in lines(svg)})
    middle = (NAMES + max(float(each.get("x2")) for each in lines(svg))) / 2
    assert any(abs(x - middle) < 0.01 for x in xs), "half of the days is half of the way"


def test_marks_that_lie_close_bear_one_label_and_nothing_leaves_the_drawing() -> None:
    first = date(2026, 3, 2)
    lane = Lane("B1", first, first, marks=[(first, number) for number in range(1, 6)], broken=True)
    last = first + timedelta(days=400)
    svg = draw_life(Life([lane], [Told(first, last)], [first, last], last), "Life", say="It")
    words = [each.text for each in ET.fromstring(svg).iter() if each.tag.endswith("text")]
    assert "1–5" in words
    for each in lines(svg):
        assert all(0 <= float(each.get(name)) <= WIDE for name in ("x1", "x2"))


def test_it_holds_whatever_days_there_are() -> None:
    day = date(2026, 3, 2)
    for end in (day, day + timedelta(days=1), day + timedelta(days=9000)):
        assert draw_life(Life([Lane("B1", day, end)], [], [], day), "Life", say="It").startswith("<svg")
