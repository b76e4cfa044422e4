"""The order of the day at a bench: worked out, kept, worked through, changed by hand, gone stale."""

import re
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from boards.models import Bench, Blank
from boards.plans import Day, day_at
from shop.models import Build, RadiusBy, SandingBlock, Shop, User
from shop.stages import STAGES
from tests.factories import (
    ON_NECK,
    days_ago,
    good_readings,
    make_blank,
    make_build,
    make_former,
    make_hand,
    make_jig,
    make_pattern,
    make_route,
    press,
    tap,
)

pytestmark = pytest.mark.django_db

PAGE = "/benches/radiusing/"
RADII = {"10": "254", "12": "304.8", "16": "406.4"}


@pytest.fixture
def rigged(maker: User) -> Shop:
    """A jig with two formers each of 10, 12 and 16 in, the twelves standing, a cutter on it."""
    jig = make_jig()
    formers = {name: make_former(jig, name, cuts=float(radius)) for name, radius in RADII.items()}
    shop = Shop.current()
    jig.stand(make_hand(), 0, head=formers["12"], heel=formers["12"], riser_in=True, cutter=shop.cutter)
    Shop.objects.update(jig=jig, former_minutes=10, riser_minutes=5, cutter_minutes=5, depth_minutes=5, horizon_days=14)
    return Shop.current()


def board(head: str, heel: str = "", *, due_in: int | None = None, done: int = 2, **changes: Any) -> str:
    """The number of a board that waits for radiusing and needs these formers."""
    due = days_ago(-due_in) if due_in is not None else None
    build = make_build(f"B{Build.objects.count() + 100}", due_on=due, **changes)
    put_radius(build, head, heel or head)
    return make_blank(build, done=done).number


def put_radius(build: Build, head: str, heel: str) -> None:
    """Give a build the radii that two formers of the jig cut with the board in the middle of the bed.

    By hand: between the formers the radius is linear along the jig (own derivation: an oblique cone).
    """
    one, other, length = float(RADII[head]), float(RADII[heel]), build.figures().board.length
    ends = ((900 - length) / 2 / 900, (900 + length) / 2 / 900)
    nut, heel_ = (Decimal(f"{one + (other - one) * along:.6f}") for along in ends)
    Build.objects.filter(pk=build.pk).update(radius_nut=nut, radius_heel=heel_)
    build.refresh_from_db()


def today(stage: str = "radiusing") -> Day:
    return day_at(stage, Shop.current(), timezone.localdate())


def numbers(day: Day) -> list[list[str]]:
    return [[board.blank.number for board in run.boards] for run in day.runs]


def finish(client: Client, number: str) -> None:
    blank = Blank.objects.get(number=number)
    readings = {name: str(value) for name, value in good_readings(blank).items()}
    answer = client.post(f"/blanks/{number}/finish/{blank.next_stage}/", press(blank, **readings))
    assert answer.status_code == 302


def post(client: Client, what: str, stage: str = "radiusing", seen: int | None = None, **sent: Any) -> Any:
    seen = Bench.at(stage).version if seen is None else seen
    return client.post(f"/benches/{stage}/{what}/", tap(seen=seen, **sent))


def test_the_least_changing_over_and_why(bench: Client, rigged: Shop) -> None:
    sixteen, compound, twelve, on_ten = board("16"), board("12", "16"), board("12"), board("10")
    day = today()
    # By hand, from the twelves: nothing but the depth for the 12; 16 at one end; 16 at the other; both for the 10.
    # Each time the depth is set and proved anew: 5, 15, 15, 25.
    assert numbers(day) == [[twelve], [compound], [sixteen], [on_ten]]
    assert [run.minutes for run in day.runs] == [5, 15, 15, 25]
    # By due date there is none here, so as they came: 16 both, 12 head, 12 heel, 10 both.
    assert (day.minutes, day.by_due_date) == (60, 25 + 15 + 15 + 25)
    assert day.proved and not day.planned
    page = bench.get(PAGE).content.decode()
    assert "60 minutes of changing over</b>, 20 less than by due date" in page
    assert "No order takes less: proved" in page
    assert "<li>Change the heel former: 16 for 12</li><li>Prove the depth again</li>" in page
    assert "Now there: head former 12, heel former 12, riser in, cutter" in page


def test_a_board_is_laid_the_other_way_round_where_that_saves_formers(bench: Client, rigged: Shop) -> None:
    up, down = board("10", "16"), board("16", "10")
    day = today()
    assert numbers(day) == [[up, down]]
    assert day.runs[0].turned in ({up}, {down})
    assert bench.get(PAGE).content.decode().count("Lay it the other way round.") == 1


def test_due_inside_the_horizon_goes_first(bench: Client, rigged: Shop) -> None:
    stands, later = board("12"), board("16", due_in=15)
    soon, with_it = board("10", due_in=14), board("10")
    day = today()
    assert numbers(day) == [[soon, with_it], [later], [stands]], "though the twelves stand already"
    assert day.soon == [soon]
    assert f"so their setups go first: {soon}." in bench.get(PAGE).content.decode()
    Build.objects.filter(blanks__number=later).update(due_on=days_ago(3))
    assert set(today().soon) == {soon, later}, "what is late already is due soonest"


def test_looking_writes_nothing(bench: Client, rigged: Shop) -> None:
    board("10")
    before = list(Bench.objects.values()), Shop.objects.values().get(), rigged.jig.version
    for address in (PAGE, f"{PAGE}run/", "/benches/gluing/"):
        assert bench.get(address).status_code == 200
    rigged.jig.refresh_from_db()
    assert (list(Bench.objects.values()), Shop.objects.values().get(), rigged.jig.version) == before


def test_a_kept_plan_stays_put_while_it_is_worked_through(bench: Client, rigged: Shop) -> None:
    first, second = board("12"), board("12")
    compound, sixteen = board("12", "16"), board("16")
    assert post(bench, "plan").status_code == 302
    assert numbers(today()) == [[first, second], [compound], [sixteen]]
    finish(bench, first)
    assert (numbers(today()), today().stale) == ([[second], [compound], [sixteen]], [])
    finish(bench, second)
    finish(bench, compound)
    day = today()
    assert (numbers(day), day.stale, day.proved) == ([[sixteen]], [], True)
    # What is finished says what stands: 16 at the heel by now, so that one former more is enough.
    assert day.minutes == rigged.former_minutes + rigged.depth_minutes
    assert "Planned by" in bench.get(PAGE).content.decode()


def test_a_run_that_drops_out_of_the_midst_may_leave_a_better_order(bench: Client, rigged: Shop) -> None:
    """12 to 12 and 16, to 16 and 10, to 10: without the middle one, by hand, what is planned is no longer the best."""
    board("12", "16"), board("16", "10"), board("10")
    post(bench, "plan")
    day = today()
    assert day.proved
    held = Blank.objects.get(number=day.runs[1].boards[0].blank.number)
    held.hold(make_hand(), held.version, "A shake")
    left = today()
    assert [run.key for run in left.runs] == [day.runs[0].key, day.runs[2].key], "the order stays put"
    assert left.proved == (left.minutes == left.queue.least(left.now).minutes)
    Shop.objects.update(former_minutes=1)
    assert today().minutes == left.minutes - 9 * 3, "three formers, by what is written down now"


def test_a_board_that_is_taken_back_has_its_old_place(bench: Client, rigged: Shop) -> None:
    first, second = board("12"), board("16")
    post(bench, "plan")
    finish(bench, first)
    blank = Blank.objects.get(number=first)
    bench.post(f"/blanks/{first}/undo/{blank.version}/", press(blank))
    assert (numbers(today()), today().stale) == ([[first], [second]], [])


def test_boards_that_came_since_stand_behind_the_plan(bench: Client, rigged: Shop) -> None:
    planned = board("16")
    post(bench, "plan")
    late = [board("12"), board("12", "16")]
    day = today()
    assert numbers(day) == [[planned]]
    assert sorted(b.blank.number for run in day.since for b in run.boards) == late
    assert day.stale == [f"{late[0]} and {late[1]} came since."]
    page = bench.get(PAGE).content.decode()
    assert "The plan does not hold any more" in page
    assert page.index("Not in the plan") > page.index(f'id="run-{planned}"')
    assert page.index(f'id="run-{late[0]}"') > page.index("Not in the plan")
    post(bench, "plan")
    assert (numbers(today()), today().stale) == ([[late[0]], [late[1]], [planned]], [])


def test_many_that_came_are_counted(rigged: Shop, bench: Client) -> None:
    board("16")
    post(bench, "plan")
    for _ in range(4):
        board("12")
    assert today().stale == ["4 boards came since."]


def test_a_board_that_needs_something_else_by_now(bench: Client, rigged: Shop) -> None:
    same, changed = board("12"), board("12")
    post(bench, "plan")
    build = Build.objects.get(blanks__number=changed)
    put_radius(build, "16", "16")
    day = today()
    assert numbers(day) == [[same]]
    assert day.stale == [f"{changed} now needs other formers."]
    assert [b.blank.number for run in day.since for b in run.boards] == [changed]
    put_radius(build, "12", "12")
    Build.objects.filter(pk=build.pk).update(thickness=Decimal("6.02"))
    assert today().stale == [f"{changed} now needs another depth."]


def test_a_due_date_that_moved_and_one_that_came_near(bench: Client, rigged: Shop) -> None:
    stands, far = board("12"), board("16", due_in=20)
    post(bench, "plan")
    Build.objects.filter(blanks__number=far).update(due_on=days_ago(-30))
    assert today().stale == [f"{far} is due on another day by now."]
    post(bench, "plan")
    later = day_at("radiusing", Shop.current(), timezone.localdate() + timedelta(days=16))
    assert later.stale == [f"{far} is due within 14 days by now."]
    near = day_at("radiusing", Shop.current(), timezone.localdate() + timedelta(days=15))
    assert near.stale == []
    finish(bench, stands)
    later = day_at("radiusing", Shop.current(), timezone.localdate() + timedelta(days=16))
    assert later.stale == [], "nothing goes before it any more"


def test_another_setup_than_planned(bench: Client, rigged: Shop) -> None:
    board("12"), board("16")
    post(bench, "plan")
    ten = rigged.jig.formers.get(name="10")
    rigged.jig.stand(make_hand(), rigged.jig.version, head=ten, heel=ten, riser_in=True, cutter=rigged.cutter)
    assert today().stale == ["Something else stands there than the plan goes by."]
    sixteen = rigged.jig.formers.get(name="16")
    rigged.jig.stand(make_hand(), rigged.jig.version, head=sixteen, heel=sixteen, riser_in=True, cutter=rigged.cutter)
    assert today().stale == ["Something else stands there than the plan goes by."], "the second run's, before the first"


def test_runs_are_moved_and_the_page_says_so(bench: Client, rigged: Shop) -> None:
    twelve, compound, sixteen = board("12"), board("12", "16"), board("16")
    keys = [run.key for run in today().runs]
    assert post(bench, "plan/later", run=keys[0]).status_code == 302
    day = today()
    assert numbers(day) == [[compound], [twelve], [sixteen]], "nobody had planned: the order that showed is kept, moved"
    assert day.planned and day.moved and not day.proved and not day.stale
    assert "Somebody has moved runs by hand." in bench.get(PAGE).content.decode()
    post(bench, "plan/earlier", run=keys[2])
    assert numbers(today()) == [[compound], [sixteen], [twelve]]
    assert today().lost > 0 and today().spared > 0
    assert f"The best order would take {today().spared:.0f} minutes less." in bench.get(PAGE).content.decode()
    assert "more than by due date" in bench.get(PAGE).content.decode()
    for where, key in (("earlier", keys[1]), ("later", keys[0])):
        answer = post(bench, f"plan/{where}", run=key)
        assert answer.status_code == 409
        assert "already" in answer.content.decode()


def test_a_run_moves_past_those_that_are_done(bench: Client, rigged: Shop) -> None:
    twelve, compound, sixteen = board("12"), board("12", "16"), board("16")
    post(bench, "plan")
    keys = [run.key for run in today().runs]
    finish(bench, twelve)
    finish(bench, compound)
    assert post(bench, "plan/earlier", run=keys[2]).status_code == 409
    assert numbers(today()) == [[sixteen]]


def test_a_pin_survives_planning_anew(bench: Client, rigged: Shop) -> None:
    twelve, compound, sixteen = board("12"), board("12", "16"), board("16")
    keys = dict(zip((twelve, compound, sixteen), [run.key for run in today().runs], strict=True))
    post(bench, "plan/earlier", run=keys[sixteen])
    post(bench, "plan/earlier", run=keys[sixteen])
    assert post(bench, "pin", run=keys[sixteen]).status_code == 302
    soon = board("10", due_in=3)
    post(bench, "plan")
    day = today()
    assert numbers(day)[:2] == [[sixteen], [soon]], "what the person says goes before what is due"
    assert [run.pinned for run in day.runs] == [True, False, False, False]
    assert day.proved and not day.moved
    page = bench.get(PAGE).content.decode()
    assert "Pinned." in page and "with the pinned runs where they are" in page
    post(bench, "pin", run=keys[sixteen])
    post(bench, "plan")
    assert numbers(today())[0] == [soon]


def test_a_pinned_run_counts_from_what_is_left(bench: Client, rigged: Shop) -> None:
    twelve, compound, sixteen, ten = board("12"), board("12", "16"), board("16"), board("10")
    assert numbers(today()) == [[twelve], [compound], [sixteen], [ten]]
    post(bench, "pin", run=today().runs[2].key)
    finish(bench, twelve)
    post(bench, "plan")
    assert numbers(today())[1] == [sixteen], "second of three, where it was third of four"


@pytest.mark.parametrize("what", ["plan", "plan/later", "plan/earlier", "pin"])
def test_two_people_at_once(bench: Client, other_bench: Client, rigged: Shop, what: str) -> None:
    board("12"), board("16"), board("10")
    post(bench, "plan")
    seen, key = Bench.at("radiusing").version, today().runs[1].key
    post(other_bench, "pin", run=key)
    before = Bench.objects.values().get()
    answer = post(bench, what, seen=seen, run=key)
    assert answer.status_code == 409
    page = answer.content.decode()
    assert "Somebody has changed the plan" in page
    assert "Radiusing now" in page and "Pinned." in page, "as it is by now"
    if what != "plan":
        assert key not in re.sub(r'value="[^"]*"', "", page), "a run is called by its words"
    assert Bench.objects.values().get() == before
    again = post(bench, what, run=key)
    assert again.status_code == 302, "sent on top of that"


def test_a_press_counts_once(bench: Client, rigged: Shop) -> None:
    board("12"), board("16"), board("10")
    sent = tap(seen=0, run=today().runs[0].key)
    for _ in range(3):
        assert bench.post("/benches/radiusing/plan/later/", sent).status_code == 302
    assert Bench.objects.get().version == 1


@pytest.mark.parametrize("run", ["", "nonsense", "a\x00b", "x" * 5000, "\U0001f600"])
def test_a_run_that_is_not_there_is_refused_in_words(bench: Client, rigged: Shop, run: str) -> None:
    board("12"), board("16")
    for what in ("plan/later", "plan/earlier", "pin"):
        answer = post(bench, what, run=run)
        assert answer.status_code == 409
        assert "That run is not there any more" in answer.content.decode()
    assert not Bench.objects.exclude(plan=None).exists()


def test_addresses_that_are_none(bench: Client, rigged: Shop) -> None:
    assert post(bench, "plan", stage="polishing", seen=0).status_code == 404
    assert post(bench, "plan/sideways").status_code == 404
    assert bench.get("/benches/radiusing/plan/").status_code == 405
    assert bench.post("/benches/radiusing/plan/", tap(seen="x")).status_code == 400
    answer = post(bench, "plan", stage="gluing")
    assert answer.status_code == 409
    assert "No board waits for gluing." in answer.content.decode()


def test_finishing_a_board_says_what_stands_and_the_jig_agrees(bench: Client, rigged: Shop) -> None:
    number = board("10", "16")
    finish(bench, number)
    jig = Shop.current().jig
    assert (jig.head_former.name, jig.heel_former.name) == ("10", "16")
    now = Bench.at("radiusing").standing(Shop.current())
    assert (now["head_former"], now["depth"]) == ("name:10", "mm:6.15")
    assert today().stands.startswith("head former 10, heel former 16, riser in")
    version = Bench.at("radiusing").version
    again = board("10", "16")
    assert today().minutes == 0
    finish(bench, again)
    assert Bench.at("radiusing").version == version, "the same stands: nothing to write down"


def test_a_board_that_was_turned_leaves_the_jig_as_it_stands(bench: Client, rigged: Shop) -> None:
    finish(bench, board("10", "16"))
    finish(bench, board("16", "10"))
    jig = Shop.current().jig
    assert (jig.head_former.name, jig.heel_former.name) == ("10", "16")


def test_another_cutter_wants_its_depth_set(bench: Client, rigged: Shop) -> None:
    finish(bench, board("12"))
    assert "depth" in Bench.at("radiusing").standing(Shop.current())
    jig = Shop.current().jig
    jig.stand(make_hand(), jig.version, head=jig.head_former, heel=jig.heel_former, riser_in=True, cutter=None)
    assert "depth" not in Bench.at("radiusing").standing(Shop.current())


def test_a_former_that_the_kit_has_lost_keeps_no_board_from_being_finished(bench: Client, rigged: Shop) -> None:
    number = board("10")
    post(bench, "plan")
    rigged.jig.formers.filter(name="10").update(count=0)
    finish(bench, number)
    assert Shop.current().jig.head_former.name == "12"


def test_a_board_on_its_neck_takes_the_riser_out(bench: Client, rigged: Shop) -> None:
    board("12")
    on_neck = board("12", done=4, route=make_route(ON_NECK))
    day = today()
    assert day.runs[1].boards[0].blank.number == on_neck
    assert day.runs[1].changes[0] == "Take the riser out"


def test_a_sanding_block_leaves_the_jig_alone(bench: Client, rigged: Shop) -> None:
    SandingBlock.objects.create(name="Ten hollow", radius=Decimal(254), length=Decimal(200))
    by_block = board("10", due_in=2, radius_by=RadiusBy.BLOCK)
    twelve = board("12")
    day = today()
    assert numbers(day) == [[by_block], [twelve]]
    assert [run.minutes for run in day.runs] == [0, 5]
    before = Bench.at("radiusing").standing(Shop.current())
    finish(bench, by_block)
    assert Bench.at("radiusing").standing(Shop.current()) == before


def test_without_a_jig_the_bench_itself_keeps_what_stands(bench: Client, maker: User) -> None:
    number, other = board("10"), board("16")
    assert today().stands == ""
    assert "What stands there now is not known" in bench.get(PAGE).content.decode()
    finish(bench, other)
    assert today().stands.startswith("head former one for 406.4 mm (16 in)")
    assert numbers(today()) == [[number]]


CHANGES = {
    "thicknessing": ({"thickness": Decimal("6.5")}, "thickness_minutes", "Set the thickness to"),
    "slotting": ({"scale": Decimal(628)}, "scale_minutes", "Change the scale: 628 mm for 648 mm"),
    "tapering": ({"nut_width": Decimal(44)}, "template_minutes", "Change the template: 44 mm to 57 mm over"),
    "gluing": ({"radius_nut": Decimal(254), "radius_heel": Decimal(254)}, "cauls_minutes", "Change the cauls: 254 mm"),
}


@pytest.mark.parametrize("stage", CHANGES)
def test_every_bench_has_its_order(bench: Client, maker: User, stage: str) -> None:
    changes, minutes, words = CHANGES[stage]
    shop, done = Shop.current(), list(STAGES).index(stage)
    one, other = make_pattern("One"), make_pattern("Other", **changes)
    first = make_blank(one, done=done).number
    finish(bench, first)
    second, third, fourth = (make_blank(spec, done=done).number for spec in (other, one, other))
    day = today(stage)
    assert numbers(day) == [[third], [second, fourth]], "what stands already goes first"
    assert [run.minutes for run in day.runs] == [0, getattr(shop, minutes)]
    assert day.proved and day.saved == getattr(shop, minutes)
    assert words in bench.get(f"/benches/{stage}/").content.decode()


def test_the_saw_is_not_set_for_each_board_anew(maker: User) -> None:
    """Thickness as read moves the slot depth; boards within its tolerance of one another may go through on one."""
    pattern = make_pattern()
    plan = Decimal("7.1")  # near what the board leaves thicknessing with
    found = {}
    for off in ("0.00", "0.03", "0.30"):
        blank = make_blank(pattern)
        read = plan + Decimal(off)
        blank.finish(make_hand(), blank.version, "thicknessing", {"head": read, "heel": read})
        found[off] = blank.number
    day = today("slotting")
    tolerance = float(Shop.current().slot_tolerance)
    for run in day.runs:
        depth = float(run.pieces["slot_depth"].removeprefix("mm:"))
        for board in run.boards:
            assert abs(depth - board.result.slots.depth_setting) <= tolerance / 2 + 1e-6
    assert len(day.boards) == 3 and len(day.runs) in (2, 3)
    (far,) = [run for run in day.runs if found["0.30"] in [board.blank.number for board in run.boards]]
    assert len(far.boards) == 1


def test_fans_of_other_outlines_want_other_templates(bench: Client, maker: User) -> None:
    fanned = {"bass_scale": Decimal("685.8"), "square_fret": 7, "nut_width": Decimal(48), "heel_width": Decimal(66)}
    like = {"length": Decimal(620), "width": Decimal(80), "done": 1}
    one, again = (make_blank(make_pattern(name, **fanned), **like).number for name in ("One", "Again"))
    other = make_blank(make_pattern("Other", **fanned | {"square_fret": 9}), **like).number
    assert sorted(map(sorted, numbers(today("slotting")))) == sorted([[one, again], [other]])
    finish(bench, one)
    assert "scale 685.8 mm and 648 mm, fret 7 square" in today("slotting").stands


def test_gluing_counts_rounds_of_clamps(bench: Client, maker: User) -> None:
    Shop.objects.update(clamps=3, clamp_minutes=45, cauls_minutes=7)
    one, other = make_pattern("One"), make_pattern("Other", radius_nut=Decimal(254), radius_heel=Decimal(254))
    for spec in [one] * 4 + [other] * 3:
        make_blank(spec, done=4)
    # Four boards in two rounds, three in one; each time the cauls are changed first.
    assert sorted(run.rounds for run in today("gluing").runs) == [1, 2]
    assert "4 boards in 2 rounds" in bench.get("/benches/gluing/").content.decode()
    assert today("gluing").time.total == pytest.approx(3 * 45 + 2 * 7)


def test_it_costs_the_same_number_of_queries(bench: Client, rigged: Shop) -> None:
    def cost() -> int:
        with CaptureQueriesContext(connection) as captured:
            today()
        return len(captured)

    board("10"), board("12"), board("16")
    fresh = cost()
    post(bench, "plan")
    kept = cost()
    for _ in range(3):
        board("10", "16"), board("12"), board("16")
    assert cost() == kept <= fresh + 1
