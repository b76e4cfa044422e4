"""Radiusing with the shop's own formers: what to fit, how the board lies, what comes out, how long it takes."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from boards.figures import worked
from boards.setups import setup_of
from boards.times import ENOUGH, minutes_between, minutes_from_log
from geometry.units import LengthStyle, format_length
from shop.models import Cutter, RadiusBy, SandingBlock, Shop, User
from tests.factories import (
    good_readings,
    make_blank,
    make_build,
    make_former,
    make_hand,
    make_jig,
    make_pattern,
    press,
    tap,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def rigged(maker: User) -> Shop:
    """A shop whose jig has two formers that cut 12 in into a board of 6 mm."""
    jig = make_jig()
    make_former(jig, "Twelve", cuts=304.8)
    Shop.objects.update(jig=jig)
    return Shop.current()


def test_the_formers_to_fit_and_the_place_of_the_nut(bench: Client, rigged: Shop) -> None:
    blank = make_blank(make_pattern(), done=2)
    setup = worked(blank, rigged).result.setup
    assert setup.fits
    page = bench.get(f"/benches/radiusing/?board={blank.number}").content.decode()
    assert "Fit formers Twelve at both ends, riser in" in page
    assert format_length(rigged.jig.on_rule(setup.nut_at), LengthStyle.MM, 1) in page
    assert f"{format_length(setup.nut_radius, LengthStyle.MM, 1)} at the nut" in page
    assert "Marks of the" in page


def test_the_rule_counts_from_where_it_begins(rigged: Shop) -> None:
    rigged.jig.rule_zero = Decimal(50)
    assert rigged.jig.on_rule(162.5) == 112.5


def test_boards_of_one_pair_of_formers_go_through_together(bench: Client, rigged: Shop) -> None:
    for name in ("Lark", "Finch"):
        make_blank(make_pattern(name), done=2)
    groups = bench.get("/benches/radiusing/").context["day_plan"].runs
    assert [len(run.boards) for run in groups] == [2]


def test_without_formers_the_radius_itself_is_said(bench: Client, rigged: Shop) -> None:
    rigged.jig.formers.all().delete()
    make_blank(make_pattern(), done=2)
    page = bench.get("/benches/radiusing/").content.decode()
    assert "304.8 mm (12 in), riser in" in page


def test_where_no_pair_fits_the_formers_to_make_are_at_hand(bench: Client, rigged: Shop) -> None:
    rigged.jig.formers.all().delete()
    make_former(rigged.jig, "Round", cuts=190)
    blank = make_blank(make_build("B907"), done=2)
    page = bench.get(f"/benches/radiusing/?board={blank.number}").content.decode()
    for end in ("head", "heel"):
        assert f"/builds/B907/{end}-former.pdf" in page


def test_a_blank_too_long_for_the_jig_is_said_and_keeps_its_other_figures(bench: Client, rigged: Shop) -> None:
    blank = make_blank(make_pattern(), done=2, length=Decimal(1500))
    board = worked(blank, rigged)
    assert board.result is not None
    assert board.result.setup is None
    page = bench.get(f"/benches/radiusing/?board={blank.number}").content.decode()
    assert any(warning.code == "jig-too-short" for warning in board.result.warnings)
    assert "Radiused, next board" in page


def test_a_jig_that_cannot_cut_a_board_leaves_its_other_figures(bench: Client, rigged: Shop) -> None:
    Shop.objects.update(jig=make_jig("Low", rail_plane=46, rail_spacing=60))
    rigged = Shop.current()
    blank = make_blank(make_pattern(), done=2)
    board = worked(blank, rigged)
    assert board.result is not None
    assert board.jig_trouble
    assert board.jig_trouble.split(".")[0] in bench.get(f"/benches/radiusing/?board={blank.number}").content.decode()


def test_a_sanding_block_instead_of_the_jig(bench: Client, rigged: Shop) -> None:
    SandingBlock.objects.create(name="Twelve hollow", radius=Decimal("304.8"), length=Decimal(200))
    blank = make_blank(make_pattern(radius_by=RadiusBy.BLOCK), done=2)
    board = worked(blank, rigged)
    assert board.block.error == pytest.approx(0, abs=1e-9)
    assert board.result.passes is None
    assert setup_of("radiusing", board, LengthStyle.MM).words == "Sanding block Twelve hollow, for 304.8 mm (12 in)"
    page = bench.get("/benches/radiusing/").content.decode()
    assert "The block has the radius of the board." in page


def test_a_compound_board_under_a_block_says_how_far_off_it_comes_out(bench: Client, rigged: Shop) -> None:
    SandingBlock.objects.create(name="Twelve hollow", radius=Decimal("304.8"), length=Decimal(200))
    compound = make_pattern(radius_by=RadiusBy.BLOCK, radius_nut=Decimal(254), radius_heel=Decimal("406.4"))
    blank = make_blank(compound, done=2)
    error = worked(blank, rigged).block.error
    assert error > 0.1
    assert f"up to {format_length(error)} off" in bench.get("/benches/radiusing/").content.decode()


def test_no_block_that_spans_the_board(bench: Client, rigged: Shop) -> None:
    make_blank(make_pattern(radius_by=RadiusBy.BLOCK), done=2)
    assert "none that spans it" in bench.get("/benches/radiusing/").content.decode()


def test_the_cutter_counts_its_minutes_and_takes_back_a_mistaken_tap(bench: Client, rigged: Shop) -> None:
    blank = make_blank(make_pattern(), done=2)
    # By hand: passes x depths x length of the blank / feed, 530 mm at 1500 mm a minute.
    passes = worked(blank, rigged).result.passes
    expected = round(passes.count * passes.depth_levels * 530 / 1500, 1)
    readings = {name: str(value) for name, value in good_readings(blank).items()}
    bench.post(f"/blanks/{blank.number}/finish/radiusing/", press(blank, **readings))
    cutter = Cutter.objects.get(pk=rigged.cutter_id)
    assert float(cutter.minutes_since_sharpening) == pytest.approx(expected, abs=0.06)
    blank.refresh_from_db()
    bench.post(f"/blanks/{blank.number}/undo/{blank.version}/", press(blank))
    cutter.refresh_from_db()
    assert cutter.minutes_since_sharpening == 0


@pytest.mark.parametrize("since", ["sharpened", "another cutter", "typed"])
def test_minutes_are_not_taken_back_from_a_cutter_that_did_not_cut_them(
    bench: Client, owners_bench: Client, rigged: Shop, since: str
) -> None:
    blank = make_blank(make_pattern(), done=2)
    readings = {name: str(value) for name, value in good_readings(blank).items()}
    bench.post(f"/blanks/{blank.number}/finish/radiusing/", press(blank, **readings))
    blank.refresh_from_db()
    cutter = Cutter.objects.get(pk=rigged.cutter_id)
    cut = cutter.minutes_since_sharpening
    left = {"sharpened": 0, "another cutter": 50, "typed": 30}[since]
    address = f"/kit/cutters/{cutter.pk}/"
    if since == "sharpened":
        assert bench.post(f"{address}sharp/", tap(seen=cutter.version)).status_code == 302
        cutter.wear(left := 5)
    elif since == "typed":
        typed = tap(seen=0, name=cutter.name, diameter="20", max_depth="2", minutes_since_sharpening="30")
        assert owners_bench.post(address, typed | {"initial-minutes_since_sharpening": str(cut)}).status_code == 302
    else:
        other = Cutter.objects.create(name="Other", diameter=20, max_depth=2, minutes_since_sharpening=50)
        rigged.jig.refresh_from_db()  # the finished board has told what stands on it
        fitted = tap(seen=rigged.jig.version, head="", heel="", riser="in", cutter=other.pk)
        assert bench.post(f"/kit/jigs/{rigged.jig_id}/stand/", fitted).status_code == 302
        cutter.refresh_from_db()
        assert cutter.minutes_since_sharpening == cut > 0
        cutter = other
    assert bench.post(f"/blanks/{blank.number}/undo/{blank.version}/", press(blank)).status_code == 302
    cutter.refresh_from_db()
    assert cutter.minutes_since_sharpening == left


def test_time_by_the_feed_until_the_log_knows_better(bench: Client, maker: User, rigged: Shop) -> None:
    board = worked(make_blank(make_pattern(), done=2), rigged)
    time = bench.get("/benches/radiusing/").context["day_plan"].time
    passes = board.result.passes
    assert time.board == pytest.approx(passes.count * passes.depth_levels * 530 / 1500)
    # Nothing is known to stand but the riser: both formers, the cutter, and the depth that is set after them.
    assert time.changes == 2 * rigged.former_minutes + rigged.cutter_minutes + rigged.depth_minutes
    assert not time.learned
    start = timezone.localtime().replace(hour=8, minute=0) - timedelta(days=2)
    pattern = make_pattern("Log")
    for step in range(ENOUGH + 1):
        make_blank(pattern, done=2)
        blank = make_blank(pattern, done=2)
        hand = make_hand(maker, start + timedelta(minutes=7 * step))
        blank.finish(hand, blank.version, "radiusing", {})
    assert minutes_from_log("radiusing") == 7
    assert bench.get("/benches/radiusing/").context["day_plan"].time.learned


def test_gaps_are_counted_for_one_person_on_one_day_and_breaks_are_not() -> None:
    def at(day: int, hour: int, minute: int) -> datetime:
        return timezone.make_aware(datetime(2026, 5, day, hour, minute))

    latest_first = [(1, at(5, 10, 0)), (2, at(5, 9, 58)), (1, at(5, 9, 50)), (1, at(5, 8, 0)), (1, at(4, 17, 0))]
    assert minutes_between(latest_first) == [10]


def test_a_sanding_block_takes_no_changing_over(bench: Client, rigged: Shop) -> None:
    make_blank(make_pattern(), done=2)
    alone = bench.get("/benches/radiusing/").context["day_plan"].time
    make_blank(make_pattern("Wren", radius_by="block"), done=2)
    answer = bench.get("/benches/radiusing/")
    assert len(answer.context["day_plan"].runs) == 2
    assert answer.context["day_plan"].time == alone
