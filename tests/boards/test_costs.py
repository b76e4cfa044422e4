"""What boards cost: their wood with what was scrapped, minutes from the log, rates, and what is not known."""

import csv
import io
from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from boards.costs import BY_LOG, BY_MIDDLE, BY_SETTINGS, costs_between, costs_of_build
from boards.lookback.period import Period
from boards.material import Sharing
from boards.models import Blank
from shop.models import Shop, Week
from tests.factories import good_readings, make_blank, make_build, make_hand, make_pattern, make_species, make_user
from tests.shop.test_hours import payload

pytestmark = pytest.mark.django_db

NOON = datetime(2026, 3, 10, 12)
TODAY = NOON.date()


def at(minutes: float = 0, days: int = 0) -> datetime:
    return timezone.make_aware(NOON + timedelta(days=days, minutes=minutes))


def finish(blank: Blank, when: datetime, by=None) -> None:
    blank.finish(make_hand(by, when), blank.version, blank.next_stage, good_readings(blank))


def come_good(spec, days: int = 0, **changes) -> Blank:
    """A board that goes through all stages, one a day, the last of them so many days from noon."""
    blank = make_blank(spec, hand=make_hand(at=at(days=days - 10)), received_on=TODAY - timedelta(days=300), **changes)
    for left in range(len(blank.stages) - 1, -1, -1):
        finish(blank, at(days=days - left))
    return blank


def scrap(days: int = 0, **changes) -> Blank:
    blank = make_blank(hand=make_hand(at=at(days=days - 1)), received_on=TODAY - timedelta(days=300), **changes)
    blank.scrap(make_hand(at=at(days=days)), blank.version, "A shake.")
    return blank


@pytest.fixture
def week():
    rates = {f"{stage}_rate": Decimal(60) for stage in ("thicknessing", "slotting", "radiusing", "tapering", "gluing")}
    return Week.objects.create(pk=1, money="crowns", **rates)


def test_scrapped_wood_is_borne_by_the_boards_of_that_wood_that_came_good(week):
    pattern, pear, paper = make_pattern(), make_species(), make_species("Paper board", composite=True)
    for days in (-20, -10, 0):
        come_good(pattern, days, cost=Decimal(20))
    come_good(pattern, -5, species=paper, cost=Decimal(30))
    scrap(-15, cost=Decimal(12))
    scrap(-1, cost=Decimal(18))
    scrap(-1, cost=None)
    scrap(-2, species=paper, cost=Decimal(7))
    sharing = Sharing(TODAY - timedelta(days=30), TODAY)
    # By hand: on the last day three have come good and 12 + 18 are lost, ten days before two had, and 12 was.
    assert sharing.share(pear.pk, TODAY).each == Decimal(10)
    assert sharing.share(pear.pk, TODAY - timedelta(days=10)).each == Decimal(6)
    assert sharing.share(pear.pk, TODAY - timedelta(days=20)).each == 0
    share = sharing.share(pear.pk, TODAY)
    assert (share.scrapped, share.unknown, share.lost, share.good) == (3, 1, Decimal(30), 3)
    assert sharing.share(paper.pk, TODAY).each == Decimal(7), "a composite bears its own and no other"
    assert sharing.share(paper.pk, TODAY - timedelta(days=3)).each == 0


def test_a_year_later_it_is_borne_no_more(week):
    come_good(make_pattern(), 0)
    scrap(-364, cost=Decimal(9))
    pear = make_species().pk
    assert Sharing(TODAY, TODAY).share(pear, TODAY).each == 9
    later = TODAY + timedelta(days=1)
    assert Sharing(TODAY, later).share(pear, later).each == 0


def test_where_no_board_came_good_nobody_bears_it(week):
    build = make_build()
    make_blank(build, cost=Decimal(5), received_on=TODAY)
    scrap(-2, cost=Decimal(9))
    costs = costs_of_build(build, Shop.current(), today=TODAY)
    (board,) = costs.boards
    assert (board.scrap, board.share.each, board.total) == (None, None, Decimal(5))
    assert ("who bears the scrapped wood", 1) in costs.unknown


def test_minutes_are_those_that_the_log_tells_of_the_board(week):
    build, wren = make_build(boards_wanted=4), make_user("wren")
    first, second, third, fourth = (make_blank(build, received_on=TODAY - timedelta(days=99)) for _ in range(4))
    finish(first, at(0))
    finish(second, at(14))
    finish(third, at(20), by=wren)  # somebody else, whose first board of the day it is
    finish(fourth, at(20 + 14 + 91))  # a break
    costs = costs_of_build(build, Shop.current(), today=TODAY)
    took = {board.blank.number: board.stages[0] for board in costs.boards}
    sources = [took[blank.number].source for blank in (first, second, third, fourth)]
    assert sources == [BY_SETTINGS, BY_LOG, BY_SETTINGS, BY_SETTINGS]
    assert took[second.number].minutes == 14
    assert took[first.number].minutes == week.thicknessing_minutes
    # All four in one run: five minutes for setting the thickness, shared by four, and 60 crowns an hour.
    assert Shop.current().thickness_minutes == 5
    assert all(stage.setup == 1.25 for stage in took.values())
    assert took[second.number].cost == Decimal("15.25")


def test_before_the_settings_comes_the_middle_of_what_boards_took(week):
    build = make_build(boards_wanted=12)
    blanks = [make_blank(build, received_on=TODAY - timedelta(days=99)) for _ in range(12)]
    for place, blank in enumerate(blanks):
        finish(blank, at(9 * place))
    costs = costs_of_build(build, Shop.current(), today=TODAY)
    stages = [board.stages[0] for board in costs.boards]
    assert [stage.source for stage in stages] == [BY_MIDDLE] + [BY_LOG] * 11
    assert {stage.minutes for stage in stages} == {9}


def test_a_change_of_setup_is_shared_by_the_boards_after_it(week):
    thin, thick = make_build("B902", thickness=Decimal("5.5")), make_build("B903", boards_wanted=2)
    a = make_blank(thin, received_on=TODAY - timedelta(days=99))
    b, c = (make_blank(thick, received_on=TODAY - timedelta(days=99)) for _ in range(2))
    finish(a, at(0))
    finish(b, at(20))  # the gap holds the change as well, so it is not the board's
    finish(c, at(30))
    one, two = costs_of_build(thick, Shop.current(), today=TODAY).boards
    assert (one.stages[0].source, two.stages[0].source) == (BY_SETTINGS, BY_LOG)
    assert one.setup == two.setup == 2.5
    assert costs_of_build(thin, Shop.current(), today=TODAY).setup == 5


def test_work_that_is_done_twice_costs_twice(week):
    build = make_build()
    blank = make_blank(build, received_on=TODAY - timedelta(days=99))
    finish(blank, at(0))
    blank.rework(make_hand(at=at(5)), blank.version, "thicknessing", "Not even.")
    finish(blank, at(400))
    (board,) = costs_of_build(build, Shop.current(), today=TODAY).boards
    assert [stage.stage for stage in board.stages] == ["thicknessing"] * 2
    blank.undo(make_hand(at=at(401)), blank.version, blank.last_undoable())
    (board,) = costs_of_build(build, Shop.current(), today=TODAY).boards
    assert len(board.stages) == 1, "what was taken back was never done"


def test_a_scrapped_board_leaves_its_work_with_the_build_and_its_wood_with_the_others(week):
    build = make_build()
    blank = make_blank(build, cost=Decimal(40), received_on=TODAY - timedelta(days=99))
    finish(blank, at(0))
    blank.scrap(make_hand(at=at(9)), blank.version, "Torn.")
    costs = costs_of_build(build, Shop.current(), today=TODAY)
    assert (costs.wood, costs.scrap) == (0, 0)
    assert costs.work == Decimal(week.thicknessing_minutes + 5)


def test_what_is_not_known_is_said_and_never_made_up():
    Week.objects.create(pk=1, slotting_rate=Decimal(0))
    build = make_build(boards_wanted=2)
    for cost in (None, Decimal(8)):
        blank = make_blank(build, cost=cost, received_on=TODAY - timedelta(days=99))
        finish(blank, at(0))
        finish(blank, at(30))
    costs = costs_of_build(build, Shop.current(), today=TODAY)
    assert costs.total == Decimal(8)
    assert costs.unknown == [("what its blank cost", 1), ("an hour of thicknessing", 2)]
    assert costs.boards_in_part == 2
    assert {label: cost for label, *_, cost in costs.stages} == {"Thicknessing": None, "Slotting": 0}


def test_a_period_has_the_boards_that_came_good_in_it(week):
    pattern, build = make_pattern(), make_build()
    come_good(build, -40, cost=Decimal(10))
    come_good(pattern, -3, cost=Decimal(11))
    make_blank(pattern, done=2, cost=Decimal(12))
    period = Period(TODAY - timedelta(days=50), TODAY)
    costs = costs_between(period, Shop.current(), today=TODAY)
    assert (costs.wood, costs.good) == (Decimal(21), 2)
    assert all(len(board.stages) == 5 for board in costs.boards)
    lately = costs_between(Period(TODAY - timedelta(days=9), TODAY), Shop.current(), today=TODAY)
    assert lately.wood == Decimal(11)
    # A build adds up to the same on its own page and over months.
    alone = costs_of_build(build, Shop.current(), today=TODAY)
    assert alone.total == next(board.total for board in costs.boards if board.blank.build_id == build.pk)


def test_the_pages_say_it(bench, week):
    build = make_build(title="=Lark")
    come_good(build, 0, cost=Decimal(20))
    scrap(-1, cost=Decimal(5))
    days = "since=2026-01-01&until=2026-03-31"
    for page in (f"{reverse('boards:costs')}?{days}", reverse("boards:build-cost", args=[build.number])):
        words = bench.get(page).content.decode()
        assert "20.00 crowns" in words
        assert "5.00 crowns" in words
        assert "bears an equal share" in words.replace("\n", " ") or "equal share" in words


def table(answer) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode("utf-8-sig"))))


def test_the_tables_add_up_to_the_page_and_carry_no_formula(bench, week):
    pattern = make_pattern("=1+1")
    come_good(pattern, 0, cost=Decimal(20))
    days = "since=2026-01-01&until=2026-03-31"
    (board,) = table(bench.get(f"{reverse('boards:cost-boards')}?{days}"))
    stages = table(bench.get(f"{reverse('boards:cost-stages')}?{days}"))
    assert board["pattern"] == "'=1+1"
    assert len(stages) == 5
    assert Decimal(board["work"]) == sum(Decimal(stage["cost"]) for stage in stages)
    assert Decimal(board["total"]) == Decimal(20) + Decimal(board["work"])
    build = make_build()
    assert table(bench.get(f"{reverse('boards:cost-boards')}?build={build.number}")) == []
    assert bench.get(f"{reverse('boards:cost-boards')}?build=nobody").status_code == 404


def test_an_empty_shop_says_so(bench):
    assert "No board came good in that time" in bench.get(reverse("boards:costs")).content.decode()
    build = make_build()
    assert "no blank is put to it" in bench.get(reverse("boards:build-cost", args=[build.number])).content.decode()


@pytest.mark.parametrize("typed", [
    "since=x", "since=2026-02-01&until=2026-01-01",
    "since=2020-01-01&until=2026-01-01", "since=%00", "until=9999-12-31",
    "since=" + "9" * 5000, "since=%F0%9F%8E%B8", "until=0001-01-01", "since=NaN",
])  # fmt: skip
@pytest.mark.parametrize("name", ["boards:costs", "boards:look-back", "boards:cost-boards"])
def test_days_that_cannot_be_meant_are_said_beside_their_box(bench, name, typed):
    answer = bench.get(f"{reverse(name)}?{typed}")
    assert answer.status_code == 422
    assert "wrong" in answer.content.decode()


@pytest.mark.parametrize("typed", ["-1", "x", "1e400", "NaN", "99999999999", "1.234", "\x00", "🎸", "9" * 5000])
def test_a_rate_that_is_none_is_said_beside_its_box(owners_bench, typed):
    answer = owners_bench.post(reverse("shop:hours"), payload(slotting_rate=typed))
    assert answer.status_code == 422
    assert not Week.objects.exists()
    kept = owners_bench.post(reverse("shop:hours"), payload(slotting_rate="42.50", money="crowns"))
    assert kept.status_code == 302
    assert (Week.current().slotting_rate, Week.current().radiusing_rate) == (Decimal("42.50"), None)
