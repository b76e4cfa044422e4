"""What is said of a reading: beside its box, in the answer, and of the boards before it."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.figures import worked
from boards.lately import lately
from boards.models import Blank, Condition, Kind
from boards.readings import Target, targets
from boards.verdicts import judge
from geometry.units import LengthStyle
from shop.models import Shop, User
from tests.factories import good_readings, make_blank, make_build, make_hand, make_pattern, press

pytestmark = pytest.mark.django_db

HEAD = Target("head", "Thickness", "head end", 6.3, 0.1)
OFF_CENTRE = Target("off_centre", "Centreline off", "", 0.0, 0.5, "off", "off", signed=True)


def url(blank: Blank, stage: str = "") -> str:
    return f"/blanks/{blank.number}/finish/{stage or blank.next_stage}/"


def payload(blank: Blank, **changes: object) -> dict[str, object]:
    return press(blank, **{name: str(value) for name, value in good_readings(blank).items()}) | changes


@pytest.fixture
def blank(maker: User) -> Blank:
    return make_blank(make_build())


# Beside the box


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ("6.3", "in, to size"),
        ("6.304", "in, to size"),
        ("6.27", "in, 0.03 under"),
        ("6.4", "in, 0.10 over"),
        ("6.2", "in, 0.10 under"),
        ("6.400001", "out, 0.10 over"),
        ("6.44", "out, 0.14 over"),
        ("5", "out, 1.30 under"),
        # Half to even, as everywhere: 0.025 and 0.035.
        ("6.325", "in, 0.02 over"),
        ("6.335", "in, 0.04 over"),
    ],
)
def test_a_reading_is_in_or_out_in_words(reading: str, words: str) -> None:
    assert HEAD.verdict(Decimal(reading), LengthStyle.MM) == words


def test_it_is_said_in_thousandths_where_the_shop_has_inches() -> None:
    for style in (LengthStyle.INCH_DECIMAL, LengthStyle.INCH_FRACTION):
        assert HEAD.verdict(Decimal("6.401600"), style) == "out, 0.004 over"  # 6.3 mm and 0.004 in
        assert HEAD.verdict(Decimal("6.31"), style) == "in, to size"


def test_a_limit_too_fine_to_show_is_said_so() -> None:
    assert Target("x", "x", "", 6.3, 0.001).verdict(Decimal("6.302"), LengthStyle.MM) == "out, just over"


def test_what_may_lie_on_both_sides_has_no_over_and_no_under() -> None:
    said = [OFF_CENTRE.verdict(Decimal(reading), LengthStyle.MM) for reading in ("0.2", "-0.2", "0.7", "-0.7", "0")]
    assert said == ["in, 0.20 off", "in, 0.20 off", "out, 0.70 off", "out, 0.70 off", "in, to size"]


def test_the_limits_stand_beside_each_box_for_the_script(bench: Client, blank: Blank) -> None:
    """Whole millionths of a mm: nothing is rounded on the way."""
    page = bench.get(f"/blanks/{blank.number}/").content.decode()
    box = re.search(r'<input[^>]*name="head"[^>]*>', page)[0]
    assert 'data-aim="6300000"' in box and 'data-low="6200000"' in box and 'data-high="6400000"' in box
    assert 'data-unit="mm"' in box and 'inputmode="decimal"' in box
    form = re.search(r'<form[^>]*action="[^"]*/finish/thicknessing/"[^>]*>', page)[0]
    assert 'method="post"' in form and "data-readings" in form
    keypad = re.search(r'<div class="keypad[^>]*>', page)[0]
    assert "hidden" in keypad, "without its script there is none"


def test_a_shop_that_writes_fractions_gets_a_stroke(bench: Client, shop: Shop, blank: Blank) -> None:
    """A tablet's own keypad for decimals has none; ours has the denominators of a rule."""
    shop.lengths = "fraction"
    shop.save()
    page = bench.get(f"/blanks/{blank.number}/").content.decode()
    box = re.search(r'<input[^>]*name="head"[^>]*>', page)[0]
    assert 'inputmode="text"' in box and 'data-unit="in"' in box
    assert 'data-key="/64"' in page and 'data-key=" "' in page


def test_without_the_script_the_answer_says_the_same(bench: Client, blank: Blank) -> None:
    answer = bench.post(url(blank), payload(blank, head="6.27", heel="6.44"))
    assert answer.status_code == 422
    said = re.findall(r'<output class="verdict"[^>]*>([^<]*)</output>', answer.content.decode())
    assert said == ["in, 0.03 under", "out, 0.14 over"]


@pytest.mark.parametrize(
    ("typed", "kept"),
    [("+6.31mm", "6.31"), ("6,31", "6.31"), (".248in", "6.2992"), ("0006.31", "6.31"), ("+.248 in", "6.2992")],
)
def test_what_calipers_send_is_read(bench: Client, blank: Blank, typed: str, kept: str) -> None:
    assert bench.post(url(blank), payload(blank, head=typed)).status_code == 302
    assert blank.log.last().readings["head"] == kept


def test_a_caliper_below_nothing_is_read_where_that_can_be(bench: Client, maker: User) -> None:
    glued = make_blank(make_build(), done=4)
    assert bench.post(url(glued), payload(glued, off_centre="-0.01")).status_code == 302
    assert glued.log.last().readings == {"off_centre": "-0.01"}
    thick = make_blank(make_build("B902"))
    answer = bench.post(url(thick), payload(thick, head="-0.01"))
    assert answer.status_code == 422
    assert "less than nothing" in answer.content.decode()


def test_what_each_reading_should_have_been_is_kept(bench: Client, blank: Blank) -> None:
    bench.post(url(blank), payload(blank, head="6.35"))
    entry = blank.log.last()
    assert (entry.readings["head"], entry.aims) == ("6.35", {"head": "6.3", "heel": "6.3"})


@pytest.mark.parametrize(
    "bad", ["6\x003", "9" * 5000, "1e400", "NaN", "\U0001f4cf", "--6", "+", "6.3.1", "∞", "-0.0.1"]
)
def test_no_reading_is_ever_a_failure(bench: Client, blank: Blank, bad: str) -> None:
    answer = bench.post(url(blank), payload(blank, head=bad))
    assert answer.status_code == 422
    assert set(answer.context["finish_form"].errors) == {"head"}
    assert Blank.objects.get(pk=blank.pk).version == blank.version


# What it comes to


def judged(blank: Blank, **readings: str):
    shop = Shop.current()
    board = worked(blank, shop)
    asked = targets(blank.next_stage, blank, board.request, board.result, shop)
    good = good_readings(blank)
    return judge(blank.next_stage, board, asked, good | {key: Decimal(text) for key, text in readings.items()}, shop)


@pytest.mark.parametrize(
    ("done", "readings", "verdict", "words"),
    [
        # 6.00 finished, 6.15 once radiused, 6.30 before.
        (0, {"head": "6.5"}, "rework", "The head end is 0.2 mm too thick."),
        (0, {"head": "6.17"}, "pass", "0.02 mm is left to be cut off the middle"),
        # Thinner than radiusing must leave: the sanding gives it, as geometry says of the same board afterwards.
        (0, {"head": "6.1"}, "pass", "no skim left, and 0.1 mm of 0.15 mm for sanding out the passes"),
        (0, {"head": "6"}, "pass", "0 mm of 0.15 mm"),
        (0, {"head": "5.99"}, "stop", "Finished it has to be 6 mm, so 0.01 mm is missing"),
        (3, {"nut_width": "50"}, "rework", "too wide at the nut"),
        (3, {"heel_width": "58"}, "pass", "1 mm is left to be trimmed"),
        (3, {"heel_width": "56"}, "stop", "Finished it has to be 57 mm"),
        (4, {"off_centre": "1.2"}, "stop", "The centreline lies 1.2 mm off at the heel"),
        (4, {"off_centre": "-1.2"}, "stop", "The centreline lies 1.2 mm off at the heel"),
    ],
)
def test_the_stages(maker: User, done: int, readings: dict[str, str], verdict: str, words: str) -> None:
    found = judged(make_blank(make_build(), done=done), **readings)
    assert found.verdict == verdict
    assert words in " ".join(finding.words for finding in found.findings)


def test_slots_too_shallow_are_sawn_again_and_too_deep_ones_stop_at_the_web(maker: User) -> None:
    blank = make_blank(make_build(), done=1)
    board = worked(blank, Shop.current())
    depth, web = board.result.slots.depth_setting, board.result.slots.web_least
    assert judged(blank, depth=f"{depth - 0.3:.2f}").verdict == "rework"
    to_spare = web - board.request.web_min
    assert judged(blank, depth=f"{depth + to_spare - 0.01:.6f}").verdict == "pass"
    stopped = judged(blank, depth=f"{depth + to_spare + 0.01:.6f}")
    assert stopped.verdict == "stop" and "1.5 mm is the least you set" in stopped.reason


def test_readings_that_are_in_come_to_nothing(maker: User) -> None:
    for done in range(5):
        assert judged(make_blank(make_build(f"B91{done}"), done=done)) is None


def test_a_curve_off_the_centreline_is_drawn_with_what_to_do(bench: Client, maker: User) -> None:
    blank = make_blank(make_build(), done=2)
    good = good_readings(blank)
    high, low = good["head_bass"] + Decimal("0.09"), good["head_treble"] - Decimal("0.11")
    answer = bench.post(url(blank), payload(blank, head_bass=high, head_treble=low))
    assert answer.status_code == 422
    page = answer.content.decode()
    found = answer.context["finish_form"].judgement
    assert found.verdict == "rework" and len(found.views) == 2
    # Sides that differ by d are off by about d R / w (geometry notes): 0.2 x 304.8 / 70.
    assert found.views[0].found.offset == pytest.approx(-0.2 * 304.8 / 70, abs=0.01)
    assert found.views[0].high == "bass"
    assert page.count("<svg") == 2 and "bass, high" in page and "Look for shavings" in page
    assert "Cut it again, then measure again" in page and f"/benches/radiusing/?board={blank.number}" in page
    assert f'action="/blanks/{blank.number}/hold/"' in page and "thicker at the bass side" in found.reason
    assert 'name="sure"' in page, "it can be kept as it is as well"
    assert page.index('id="finding-word"') < page.index("Cut it again") < page.index('id="id_head_treble"')


def test_what_came_back_leads_to_where_it_was_sent_from(bench: Client, blank: Blank) -> None:
    """A board that is off is decided about on a page of its own: the word first, the boxes as they were typed."""
    off = bench.post(url(blank), payload(blank, head="6.5", then="/benches/thicknessing/")).content.decode()
    assert '<a class="button quiet" href="/benches/thicknessing/">Back to the bench</a>' in off
    assert "Thicknessed, next board" in off and 'value="6.5"' in off
    wrong = bench.post(url(blank), payload(blank, head="six")).content.decode()
    assert f'<a class="button quiet" href="/blanks/{blank.number}/">To its page</a>' in wrong
    assert 'value="six"' in wrong and "finding-word" not in wrong


def test_a_board_is_held_for_the_reason_that_its_readings_give(bench: Client, blank: Blank) -> None:
    answer = bench.post(url(blank), payload(blank, head="5.9", then="/benches/thicknessing/"))
    page = answer.content.decode()
    assert answer.context["finish_form"].judgement.verdict == "stop"
    reason = re.search(r'<textarea id="hold-for"[^>]*>([^<]*)</textarea>', page)[1]
    assert "Finished it has to be 6 mm" in reason
    form = page[: page.index('id="hold-for"')].rsplit("<form", 1)[1]
    assert 'name="then" value="/benches/thicknessing/"' in form
    bench.post(f"/blanks/{blank.number}/hold/", press(blank, **{"hold-reason": reason}))
    blank.refresh_from_db()
    assert blank.condition == Condition.HELD and blank.log.last().reason == reason


def test_a_board_that_is_off_can_be_kept_all_the_same(bench: Client, blank: Blank) -> None:
    answer = bench.post(url(blank), payload(blank, head="6.0"))
    sure = [question.key for question in answer.context["finish_form"].questions]
    assert bench.post(url(blank), payload(blank, head="6.0", sure=sure)).status_code == 302


def test_one_reading_alone_is_judged_as_far_as_it_goes(bench: Client, maker: User) -> None:
    """Corners without the middle, the middle without corners, one corner: no page fails over it."""
    blank = make_blank(make_build(), done=2)
    names = list(good_readings(blank))
    for name in names:
        for value in ("0", "99", "0.01"):
            sent = press(blank, **{name: value})
            assert bench.post(url(blank), sent).status_code == 422
            assert bench.post(url(blank), payload(blank, **{name: value})).status_code == 422
    assert judged(blank, centre="5.9").verdict == "stop"


# The boards before it


def finished(spec, *readings: dict[str, str], minutes: int = 60) -> None:
    """Finish the first stage of boards one after another, each with readings of its own."""
    for k, read in enumerate(readings):
        blank = make_blank(spec)
        hand = make_hand(at=timezone.now() - timedelta(minutes=minutes - k))
        stage, aims = blank.next_stage, {}
        board = worked(blank, Shop.current())
        asked = targets(stage, blank, board.request, board.result, Shop.current())
        aims = {target.key: target.aim for target in asked}
        blank.finish(hand, blank.version, stage, {**aims, **{n: Decimal(v) for n, v in read.items()}}, "", aims)


def said_before(blank: Blank) -> list[str]:
    shop = Shop.current()
    board = worked(blank, shop)
    asked = targets(blank.next_stage, blank, board.request, board.result, shop)
    return lately(blank.next_stage, blank, asked, shop, timezone.now())


def test_readings_that_creep_are_shown_before_the_next_board(bench: Client, maker: User) -> None:
    pattern = make_pattern()
    finished(pattern, {"head": "6.32"}, {"head": "6.33"}, {"head": "6.38"})
    blank = make_blank(pattern)
    words = (
        "Last boards on this setup, thickness, head end: 0.02 over, 0.03 over, 0.08 over. It creeps up: look why "
        "before this one is cut."
    )
    assert said_before(blank) == [words]
    assert words in bench.get(f"/blanks/{blank.number}/").content.decode()
    assert words in bench.get(f"/benches/thicknessing/?board={blank.number}").content.decode()


def test_readings_that_scatter_are_not(maker: User) -> None:
    pattern = make_pattern()
    finished(pattern, {"head": "6.38"}, {"head": "6.24"}, {"head": "6.36"})
    assert said_before(make_blank(pattern)) == []


def test_last_week_was_another_setup(maker: User) -> None:
    pattern, week = make_pattern(), 7 * 24 * 60
    finished(pattern, {"head": "6.32"}, {"head": "6.33"}, minutes=week + 60)
    finished(pattern, {"head": "6.38"}, minutes=60)
    assert said_before(make_blank(pattern)) == []


def test_another_setup_in_between_ends_the_run(maker: User) -> None:
    pattern, thicker = make_pattern(), make_pattern("Wren", thickness=Decimal(7))
    finished(pattern, {"head": "6.32"}, {"head": "6.33"}, minutes=90)
    finished(thicker, {}, minutes=70)
    finished(pattern, {"head": "6.38"}, minutes=60)
    assert said_before(make_blank(pattern)) == []


def test_what_was_taken_back_does_not_count(maker: User) -> None:
    pattern = make_pattern()
    finished(pattern, {"head": "6.32"}, {"head": "6.33"}, {"head": "6.38"})
    last = Blank.objects.filter(done=["thicknessing"]).order_by("-changed_at").first()
    last.undo(make_hand(), last.version, last.last_undoable())
    assert said_before(make_blank(pattern)) == []


def test_readings_from_before_their_targets_were_kept_say_nothing(maker: User) -> None:
    pattern = make_pattern()
    for head in ("6.32", "6.33", "6.38"):
        blank = make_blank(pattern)
        blank.finish(make_hand(), blank.version, "thicknessing", {"head": Decimal(head)})
    assert said_before(make_blank(pattern)) == []


def test_what_all_boards_of_a_run_share_is_the_jigs_doing(maker: User) -> None:
    pattern = make_pattern()
    for k in range(3):
        blank = make_blank(pattern, done=2)
        good = good_readings(blank)
        board = worked(blank, Shop.current())
        asked = targets("radiusing", blank, board.request, board.result, Shop.current())
        off = {"head_bass": good["head_bass"] + Decimal("0.08") + k * Decimal("0.005")}
        hand = make_hand(at=timezone.now() - timedelta(minutes=9 - k))
        blank.finish(hand, blank.version, "radiusing", good | off, "", {target.key: target.aim for target in asked})
    said = " ".join(said_before(make_blank(pattern, done=2)))
    assert "All 3 boards of this run are about" in said and "thicker at the bass side at the head" in said


def test_the_look_back_costs_no_more_when_the_log_is_long(maker: User) -> None:
    pattern = make_pattern()
    finished(pattern, {}, {}, {})
    blank = make_blank(pattern)
    with CaptureQueriesContext(
        connection,
    ) as few:
        said_before(blank)
    finished(pattern, *[{}] * 12)
    with CaptureQueriesContext(connection) as many:
        said_before(blank)
    assert len(many) <= len(few)
    assert blank.log.filter(kind=Kind.FINISHED).count() == 0
