"""Looking back: what boards took, changes of setup, what came of boards and why, and how readings ran."""

import re
from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from boards.figures import worked
from boards.lookback.period import Period
from boards.lookback.readings import LEAST, READ, boards_read, group_by, run_chart
from boards.lookback.times import Took, by_setup, by_stage, changeovers
from boards.lookback.work import done_between, work_done
from boards.lookback.yields import reasons, yield_by_stage, yield_by_wood
from boards.models import Blank, Kind
from boards.readings import targets
from geometry.control import individuals
from shop.models import Lengths, Shop
from shop.stages import STAGES
from tests.factories import (
    ON_NECK,
    good_readings,
    make_blank,
    make_build,
    make_former,
    make_hand,
    make_jig,
    make_pattern,
    make_route,
    make_species,
    make_user,
)

pytestmark = pytest.mark.django_db

NOON = datetime(2026, 3, 10, 12)
TODAY = NOON.date()
PERIOD = Period(TODAY - timedelta(days=30), TODAY)
ASKED = f"since={PERIOD.first}&until={PERIOD.last}"


def at(minutes: float = 0, days: int = 0) -> datetime:
    return timezone.make_aware(NOON + timedelta(days=days, minutes=minutes))


def finish(blank: Blank, when: datetime, by=None, off: str = "0") -> None:
    """Finish the stage that it waits for; every reading is so much over what it should have come to."""
    shop = Shop.current()
    board = worked(blank, shop)
    aims = {each.key: each.aim for each in targets(blank.next_stage, blank, board.request, board.result, shop)}
    readings = {key: aim + Decimal(off) for key, aim in aims.items()}
    blank.finish(make_hand(by, when), blank.version, blank.next_stage, readings, aims=aims)


def ready(spec, **changes) -> Blank:
    return make_blank(spec, hand=make_hand(at=at(days=-29)), received_on=TODAY - timedelta(days=99), **changes)


def works(period: Period = PERIOD):
    done = work_done(done_between(period.begins, period.ends), Shop.current())
    return [work for work in done if work.at >= period.begins]


def test_quartiles_of_what_boards_took():
    pattern = make_pattern()
    minutes = [0, 10, 22, 36, 52, 70]  # gaps of 10, 12, 14, 16, 18
    for each in minutes:
        finish(ready(pattern), at(each))
    (took,) = by_stage(works())
    # By hand: of five, the second, third and fourth.
    assert took == Took("Thicknessing", 6, 5, 12.0, 14.0, 16.0)


def test_what_somebody_did_in_between_is_no_time_of_the_board():
    pattern, wren = make_pattern(), make_user("wren")
    a, b, c = (ready(pattern) for _ in range(3))
    finish(a, at(0))
    finish(a, at(30))  # slots it
    finish(b, at(50))  # thicknesses the next: 50 minutes after the last one, but 30 of them at the saw
    finish(c, at(55), by=wren)
    told = {work.stage: work.minutes for work in works()}
    assert set(told.values()) == {None}


def test_changes_by_hand():
    shop = Shop.current()
    assert (shop.thickness_minutes, shop.slot_depth_minutes, shop.scale_minutes, shop.blade_minutes) == (5, 5, 5, 10)
    long, short = make_pattern("Long"), make_pattern("Short", scale=Decimal(628))
    blanks = [ready(spec) for spec in (long, long, short, long)]
    for place, blank in enumerate(blanks):
        finish(blank, at(10 * place, -3))
    for place, blank in enumerate(blanks):
        finish(blank, at(10 * place, -2))
    thick, slot = changeovers(works())
    assert (thick.runs, thick.changes, thick.anew, thick.minutes, thick.boards) == (1, 1, 1, 5, 4)
    # All is set anew at first: 5 for the scale, 10 for the blade, 5 for the depth; then twice the scale alone.
    assert (slot.runs, slot.changes, slot.anew, slot.minutes) == (3, 3, 1, 20 + 5 + 5)
    ((_, [_]), (label, setups)) = by_setup(works(), shop)
    assert (label, [took.boards for took in setups]) == ("Slotting", [3, 1])


def test_what_stood_before_the_period_is_known_for_a_week():
    pattern = make_pattern()
    for days in (-12, -7, 0):
        finish(ready(pattern), at(days=days))
    (thick,) = changeovers(works(Period(TODAY - timedelta(days=8), TODAY)))
    assert (thick.runs, thick.changes) == (1, 1), "five days, then seven: it stood all along, set before the period"
    (thick,) = changeovers(works(Period(TODAY, TODAY)))
    assert thick.runs == 1
    finish(ready(pattern), at(days=8))
    (thick,) = changeovers(works(Period(TODAY + timedelta(days=8), TODAY + timedelta(days=8))))
    assert (thick.changes, thick.anew) == (1, 1)


def test_yield_by_stage_and_by_wood():
    pattern, ash = make_pattern(), make_species("Ash")
    good, back, torn = ready(pattern), ready(pattern, species=ash), ready(pattern, species=ash)
    for step in range(5):
        finish(good, at(10 * step, -4))
    finish(back, at(0, -3))
    finish(back, at(50, -3))
    back.rework(make_hand(at=at(60, -3)), back.version, "slotting", "Too shallow.")
    finish(torn, at(0, -2))
    torn.scrap(make_hand(at=at(30, -2)), torn.version, "Torn out")
    rows = {row.name: (row.started, row.good, row.sent_back, row.scrapped) for row in yield_by_stage(PERIOD)}
    assert rows["Thicknessing"] == (3, 3, 0, 0)
    assert rows["Slotting"] == (3, 1, 1, 1)
    assert rows["Radiusing"] == (1, 1, 0, 0)
    woods = {row.name: (row.ended, row.good, row.scrapped) for row in yield_by_wood(PERIOD)}
    assert woods == {"Ash": (1, 0, 1), make_species().name: (1, 1, 0)}
    assert yield_by_wood(PERIOD, ash.pk)[0].in_hundred == 0
    torn.undo(make_hand(at=at(31, -2)), torn.version, torn.last_undoable())
    assert "Ash" not in {row.name for row in yield_by_wood(PERIOD)}, "what was taken back did not happen"


def test_reasons_are_grouped_by_equal_words():
    for words in ("Torn  out.", "torn out", "Torn out", "A shake", "A shake.", "Too thin"):
        (blank,) = [make_blank(hand=make_hand(at=at(days=-5)))]
        blank.scrap(make_hand(at=at(days=-1)), blank.version, words)
    found = reasons(PERIOD, Kind.SCRAPPED)
    assert [(row.words, row.times, row.so_far) for row in found.rows] == [
        ("Torn out", 3, 3),
        ("A shake", 2, 5),
        ("Too thin", 1, 6),
    ]
    assert (found.total, found.others) == (6, 0)


def test_readings_are_those_of_the_benches():
    """`READ` names what `boards.readings` asks for at each stage, on either route, with the shop's own tolerance."""
    shop = Shop.current()
    seen = {stage: {} for stage in STAGES}
    for spec in (make_pattern(), make_pattern("On the neck", route=make_route(ON_NECK))):
        blank = ready(spec)
        while blank.next_stage:
            board = worked(blank, shop)
            for each in targets(blank.next_stage, blank, board.request, board.result, shop):
                seen[blank.next_stage][each.key] = (each.side or each.what, each.tolerance)
            blank.finish(make_hand(), blank.version, blank.next_stage, good_readings(blank))
    for stage, keys in seen.items():
        assert set(keys) == set(READ[stage])
        for key, (words, tolerance) in keys.items():
            label, setting = READ[stage][key]
            assert words.lower() in label.lower()
            assert float(getattr(shop, setting)) == tolerance


def test_a_chart_of_readings_against_their_target():
    pattern, shop = make_pattern(), Shop.current()
    offs = ["0.02", "-0.01", "0.01", "0.00", "0.02", "-0.02", "0.01", "0.00", "-0.01", "0.01", "0.15", "0.01"]
    for place, off in enumerate(offs):
        finish(ready(pattern), at(10 * place, -1), off=off)
    boards = boards_read("thicknessing", PERIOD, shop)
    chart = run_chart("head", "thicknessing", boards, shop)
    assert chart.off == pytest.approx([float(off) for off in offs])
    assert chart.limits.high == pytest.approx(individuals([float(off) for off in offs]).high)
    assert chart.hits == {10: ["beyond a limit"]}
    assert chart.range_hits == {10, 11}
    assert (chart.out, chart.is_firm) == (1, False)


def test_few_readings_have_no_limits():
    pattern, shop = make_pattern(), Shop.current()
    for place in range(LEAST - 1):
        finish(ready(pattern), at(10 * place), off="0.01")
    assert run_chart("head", "thicknessing", boards_read("thicknessing", PERIOD, shop), shop).limits is None
    finish(ready(pattern), at(200), off="0.01")
    assert run_chart("head", "thicknessing", boards_read("thicknessing", PERIOD, shop), shop).limits is not None


def test_the_log_keeps_the_jig_that_a_curve_was_cut_on(bench):
    shop, pattern = Shop.current(), make_pattern()
    by_hand = make_pattern("By block", radius_by="block")
    jig = make_jig("Long jig")
    make_former(jig, "12", cuts=304.8)
    first, second, third = ready(pattern), ready(pattern), ready(by_hand)
    for blank in (first, second, third):
        finish(blank, at(0, -2))
        finish(blank, at(1, -2))
    finish(first, at(0, -1))
    Shop.objects.update(jig=jig)
    finish(second, at(10, -1))
    finish(third, at(20, -1))
    made = [blank.log.get(stage="radiusing").made.get("jig") for blank in (first, second, third)]
    assert made == [None, "Long jig", ""]
    assert list(group_by(boards_read("radiusing", PERIOD, shop), "jig")) == ["", "Long jig"]
    words = bench.get(f"{reverse('boards:look-back-at', args=['radiusing'])}?{ASKED}&jig=Long+jig").content.decode()
    assert "1 board read" in words
    # A block comes from its drawer: no former is changed for it.
    runs = {changes.name: changes for changes in changeovers(works())}
    assert runs["Radiusing"].runs == 2
    assert runs["Radiusing"].changes == 1


def test_a_page_with_all_of_it(bench):
    pattern = make_pattern()
    for place in range(12):
        finish(ready(pattern), at(10 * place, -1), off="0.30" if place == 6 else "0.01")
    page = bench.get(f"{reverse('boards:look-back-at', args=['thicknessing'])}?{ASKED}").content.decode()
    assert "beyond a limit" in page
    assert "out of tolerance" in page
    assert page.count("<svg") == 2
    assert not re.search(r"\b(nan|inf|None)\b", re.sub(r"<[^>]*>", " ", page))
    Shop.objects.update(lengths=Lengths.INCH_FRACTION)
    assert bench.get(f"{reverse('boards:look-back-at', args=['thicknessing'])}?{ASKED}").status_code == 200


def test_an_empty_shop_says_so(bench):
    page = bench.get(reverse("boards:look-back")).content.decode()
    for words in ("No stage was finished", "No board was at a bench", "No board came good", "None was in that time"):
        assert words in page
    for stage in STAGES:
        assert "No board was read" in bench.get(reverse("boards:look-back-at", args=[stage])).content.decode()
    assert bench.get("/back/varnishing/").status_code == 404


@pytest.mark.parametrize(
    "typed", ["species=x", "species=99999", "species=%00", "setup=%00", "jig=%00", "jig=" + "x" * 5000]
)
def test_what_cannot_be_chosen_is_said(bench, typed):
    finish(ready(make_pattern()), at(0))
    answer = bench.get(f"{reverse('boards:look-back-at', args=['thicknessing'])}?{ASKED}&{typed}")
    assert answer.status_code == 422
    assert "wrong" in answer.content.decode()


def test_looking_back_costs_the_same_at_3_boards_and_at_30(bench):
    pages = [reverse("boards:look-back"), reverse("boards:look-back-at", args=["slotting"]), reverse("boards:costs")]

    def queries() -> list[int]:
        counts = []
        for page in pages:
            with CaptureQueriesContext(connection) as captured:
                assert bench.get(page).status_code == 200
            counts.append(len(captured))
        return counts

    pattern, build = make_pattern(), make_build(boards_wanted=12)
    hand = make_hand(at=timezone.now() - timedelta(days=2))
    for count in (3, 27):
        for place in range(count):
            make_blank(build if place % 2 else pattern, done=5, hand=hand, cost=Decimal(4))
            lost = make_blank(pattern, done=1, hand=hand)
            lost.scrap(hand, lost.version, f"Reason {place}")
        if count == 3:
            few = queries()
            of_build = reverse("boards:build-cost", args=[build.number])
            with CaptureQueriesContext(connection) as alone:
                bench.get(of_build)
    assert queries() == few
    with CaptureQueriesContext(connection) as captured:
        bench.get(of_build)
    assert len(captured) == len(alone)
