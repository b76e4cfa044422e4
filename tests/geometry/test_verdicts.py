"""A whole board, read: the boards are made by the surface alone, with one thing wrong at a time."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.findings import worst
from geometry.gauging import Corners
from geometry.measured import AsMeasured
from geometry.radiused import RadiusedBoard, Station
from geometry.recut import lost_in_cutting_again
from geometry.request import BlankSize, EndRadii
from geometry.runs import read_run
from geometry.surface import sagitta
from geometry.units import LengthStyle
from geometry.verdicts import read_board
from geometry.workout import work_out
from tests.geometry.samples import ask, lengths, steady

REQUEST = ask(radius=EndRadii(254.0, 406.4), blank=BlankSize(530, 70, 8.5))
BOARD = RadiusedBoard.of(REQUEST, work_out(REQUEST), 0.1, 0.1)
FLAT = ask(radius=None, blank=BlankSize(530, 70, 8.5))


def curve(radius, y, off=0.0):
    return 0.0 if math.isinf(radius) else float(sagitta(radius, 2 * abs(y - off)))


def corners(board=BOARD, *, off=(0.0, 0.0), lean=0.0, ends=(0.0, 0.0), height=0.0, radius=lambda radius: radius):
    """Thickness at the corners of a board that lay off centre, leant, stood up at an end, or was cut too high."""
    found = []
    for x, e, up in zip(board.corner_places, off, ends, strict=True):
        for y in (-board.width / 2, board.width / 2):
            found.append(board.after + height - up - curve(radius(board.radius_at(x)), y, e) + math.radians(lean) * y)
    return Corners(*found)


def station(radius, *, off=0.0, bump=lambda y: 0 * y, half=27.0, points=9, apex=6.5, name="head", at=20.0):
    y = np.linspace(-half, half, points)
    z = apex - radius + np.sqrt(radius**2 - (y - off) ** 2) + bump(y)
    return Station(name, at, tuple(zip(y.tolist(), z.tolist(), strict=True)))


def causes(reading):
    return [(finding.cause, finding.where) for finding in reading.findings if finding.leads_to != "pass"]


def test_a_good_board_passes():
    reading = read_board(BOARD, corners(), 6.5, [station(BOARD.radius_at(20.0))])
    assert (reading.verdict, causes(reading), reading.again) == ("pass", [], None)
    assert all(abs(value) < 1e-6 for value in reading.off.values())
    assert read_board(BOARD).verdict == "pass"


@pytest.mark.parametrize(("off", "thick", "thin"), [(1.0, "treble", "bass"), (-1.0, "bass", "treble")])
def test_off_centre_can_be_cut_again(off, thick, thin):
    reading = read_board(BOARD, corners(off=(off, off)), 6.5)
    assert reading.verdict == "rework"
    assert causes(reading) == [("off-centre", "head"), ("off-centre", "heel")]
    head = reading.findings[0]
    assert f"thicker at the {thick} side" in head.words and f"under the {thin} edge at the head" in head.look_for
    assert head.value == pytest.approx(70 / 254, rel=0.05) and head.limit == 0.1
    # Half of what the sides of the finished board differ by.
    assert reading.again.costs == pytest.approx(BOARD.width_at(0) / 254 / 2, rel=0.1)
    assert reading.again.comes_out and reading.again.leaves > 6.35
    assert "it comes out." in reading.again.words()


def test_off_centre_too_far_stops():
    reading = read_board(BOARD, corners(off=(2.5, 2.5)), 6.5)
    assert reading.verdict == "stop" and not reading.again.comes_out
    assert "is missing, so cutting again does not save it." in reading.again.words()
    assert "counts from the plan" in read_board(BOARD, corners(off=(2.5, 2.5))).again.words()


def test_a_leaning_board_is_put_right_the_same_way():
    reading = read_board(BOARD, corners(lean=0.3), 6.5)
    assert causes(reading)[0] == ("off-centre", "head") and "leans by 0.30°" in reading.findings[0].words


def test_a_skew_blank():
    reading = read_board(BOARD, corners(off=(1.0, -1.5)), 6.5)
    assert ("skew", "") in causes(reading)
    skew = next(finding for finding in reading.findings if finding.cause == "skew")
    assert f"{math.degrees(2.5 / 530):.2f}°" in skew.words


def test_one_end_that_stood_up():
    reading = read_board(BOARD, corners(ends=(0.12, 0.0)), 6.5)
    assert causes(reading) == [("end", "head")]
    finding = reading.findings[0]
    assert "lies 0.12 mm lower than the middle says, at both sides" in finding.words
    assert "under the head" in finding.look_for and "wrong former" in finding.look_for
    assert reading.verdict == "rework"
    assert read_board(BOARD, corners(ends=(0.2, 0.0)), 6.5).verdict == "stop"
    assert causes(read_board(BOARD, corners(ends=(0.0, -0.2)), 6.5)) == [("end", "heel")]


def test_the_wrong_radius_at_both_ends():
    tighter = read_board(BOARD, corners(radius=lambda radius: radius * 0.9), 6.5)
    assert causes(tighter) == [("radius", "")]
    assert "tighter than wanted, about 22" in tighter.findings[0].words  # 254 * 0.9 less a cone's little at the end
    flatter = read_board(BOARD, corners(radius=lambda radius: radius * 1.15), 6.5)
    assert "flatter than wanted" in flatter.findings[0].words
    assert flatter.verdict == "rework" and flatter.again.costs == pytest.approx(0, abs=1e-9)


def test_cut_too_high_and_too_low():
    high = read_board(BOARD, corners(height=0.2), 6.7)
    assert causes(high) == [("height", "")] and high.verdict == "rework"
    assert "Set the cutter 0.2 mm lower" in high.findings[0].would_help
    low = read_board(BOARD, corners(height=-0.12), 6.38)
    assert low.verdict == "pass" and low.findings[0].cause == "thin"
    assert "The sanding gives the 0.12 mm that are missing." in low.findings[0].words
    gone = read_board(BOARD, corners(height=-0.2), 6.3)
    assert gone.verdict == "stop" and gone.again is None
    assert "0.05 mm less than the finished board" in gone.findings[0].words


def test_a_board_measured_thin_is_held_against_its_spec():
    """The figures worked out from a thin reading do not lower what the finished board has to be."""
    board = RadiusedBoard.of(REQUEST, work_out(REQUEST, measured=AsMeasured(head=6.3)), 0.1, 0.1)
    assert (board.after, board.finished) == pytest.approx((6.3, 6.35))
    assert read_board(board, centre=6.3).verdict == "stop"


def test_a_station_tells_a_wrong_former_from_an_end_that_stood_up():
    wrong = read_board(BOARD, None, 6.5, [station(200.0)])
    assert causes(wrong) == [("radius", "head")]
    assert "tighter than" in wrong.findings[0].words and wrong.off["curve head"] > 0.1
    assert causes(read_board(BOARD, None, 6.5, [station(BOARD.radius_at(20.0), apex=6.4)])) == []


def test_a_hollow_board_stops():
    dished = replace(station(300.0), points=tuple((y, 12 - z) for y, z in station(300.0).points))
    reading = read_board(BOARD, stations=[dished])
    assert reading.verdict == "stop" and causes(reading) == [("hollow", "head")]


def test_a_flattened_crown():
    """Worn where the middle passes are guided: lower there, and as it should be towards the sides."""
    right = BOARD.radius_at(20.0)
    reading = read_board(BOARD, None, 6.5, [station(right, bump=lambda y: -0.25 * np.exp(-((y / 9) ** 2)), points=11)])
    assert ("crown", "head") in causes(reading)
    crown = next(finding for finding in reading.findings if finding.cause == "crown")
    assert "flattened" in crown.words and "former worn" in crown.look_for
    peaked = read_board(BOARD, None, 6.5, [station(right, bump=lambda y: 0.25 * np.exp(-((y / 9) ** 2)), points=11)])
    assert "peaked" in next(finding for finding in peaked.findings if finding.cause == "crown").words


@pytest.mark.parametrize(("sign", "side"), [(1, "treble"), (-1, "bass")])
def test_two_unlike_sides(sign, side):
    right = BOARD.radius_at(20.0)
    reading = read_board(BOARD, None, 6.5, [station(right, bump=lambda y: sign * 0.3 * (y / 27) ** 3, points=11)])
    finding = next(finding for finding in reading.findings if finding.cause == "sides")
    assert f"towards the {side} edge the board stands higher" in finding.words


def test_steps():
    right = BOARD.radius_at(20.0)
    ridges = read_board(
        BOARD, None, 6.5, [station(right, bump=lambda y: 0.12 * (-1.0) ** np.arange(len(y)), points=12)]
    )
    assert ("steps", "head") in causes(ridges)
    scallops = read_board(
        BOARD, None, 6.5, [station(right, bump=lambda y: 0.02 * (-1.0) ** np.arange(len(y)), points=12)]
    )
    assert causes(scallops) == []


def test_noise_alone_is_no_shape():
    rng = np.random.default_rng(11)
    right, found = BOARD.radius_at(20.0), 0
    for _ in range(150):
        noisy = station(right, bump=lambda y: rng.normal(0, 0.02, len(y)), points=11)
        found += bool(causes(read_board(BOARD, None, 6.5, [noisy])))
    assert found <= 8  # five in a hundred and a little


@steady
@given(lengths(150, 600), lengths(150, 600), lengths(-2, 2), lengths(40, 80))
def test_what_cutting_again_costs(radius, wanted, offset, width):
    """Set the new curve as much lower: it lies in the wood everywhere, and touches the old one somewhere."""
    costs = lost_in_cutting_again(radius, offset, wanted, width)
    y = np.linspace(-width / 2, width / 2, 4001)
    old = -np.array(sagitta(radius, 2 * np.abs(y - offset)))
    new = -costs - np.array(sagitta(wanted, 2 * np.abs(y)))
    assert (old - new).min() >= -2e-4
    assert (old - new).min() <= 2e-4 or costs == 0


@steady
@given(lengths(184, 508), lengths(0, 1.5), lengths(45, 70))
def test_cutting_again_off_centre_costs_half_of_what_the_sides_differ_by(radius, offset, width):
    apart = curve(radius, -width / 2, offset) - curve(radius, width / 2, offset)
    assert lost_in_cutting_again(radius, offset, radius, width) == pytest.approx(
        apart / 2, abs=offset**2 / radius + 0.05 * apart + 1e-12
    )


@steady
@given(st.tuples(lengths(-2, 2), lengths(-2, 2)), lengths(-0.3, 0.3), st.tuples(lengths(-0.3, 0.3), lengths(-0.3, 0.3)))
def test_any_board_gets_words_and_a_verdict(off, height, ends):
    for style in LengthStyle:
        reading = read_board(BOARD, corners(off=off, height=height, ends=ends), 6.5 + height, style=style)
        assert reading.verdict in ("pass", "rework", "stop")
        assert (reading.verdict == "pass") == (not causes(reading))
        for finding in reading.findings:
            assert finding.words.endswith(".") and "nan" not in finding.said and "!" not in finding.said
            if finding.leads_to != "pass":
                assert finding.value > finding.limit and (finding.look_for or finding.would_help)
    assert worst(finding.leads_to for finding in reading.findings) in (reading.verdict, "rework")


def test_a_flat_board():
    board = RadiusedBoard.of(FLAT, work_out(FLAT), 0.1, 0.1)
    assert read_board(board, Corners(6.5, 6.5, 6.5, 6.5), 6.5).verdict == "pass"
    leaning = read_board(board, Corners(6.3, 6.6, 6.3, 6.6), 6.45)
    assert "It leans by" in leaning.findings[0].words and "centreline" not in leaning.findings[0].words
    rounded = read_board(board, None, 6.5, [station(300.0)])
    assert "it should be flat" in rounded.findings[0].words


# A run on the same formers


def run_of(*boards):
    return [read_board(BOARD, corners(**board), 6.5 + board.get("height", 0.0)) for board in boards]


def test_what_all_boards_share_is_the_jig():
    shared = read_run(run_of({"off": (0.8, 0.1)}, {"off": (0.9, -0.1)}, {"off": (0.7, 0.0)}), 0.1, formers="A and B")
    (finding,) = shared.findings
    assert (finding.cause, finding.where) == ("shared", "head") and shared.verdict == "rework"
    assert finding.words.startswith("All 3 boards of this run are about 0.2")
    assert "thicker at the treble side at the head" in finding.words
    assert "formers A and B" in finding.look_for and "the jig, not the boards" in finding.would_help


def test_boards_that_differ_share_nothing():
    assert read_run(run_of({"off": (0.8, 0)}, {"off": (-0.9, 0)}, {"off": (0.1, 0)}), 0.1).findings == ()
    assert read_run(run_of({"off": (2.0, 0)}, {"off": (0.05, 0)}, {"off": (0.1, 0)}), 0.1).findings == ()
    assert read_run(run_of({"off": (0.8, 0)}), 0.1).findings == ()
    assert read_run([], 0.1).findings == ()


def test_a_cutter_that_crept_and_a_worn_pair():
    crept = read_run(run_of({"height": 0.12}, {"height": 0.14}), 0.1)
    assert any(
        finding.words == "Both boards of this run are about 0.13 mm too thick in the middle."
        for finding in crept.findings
    )
    worn = read_run(run_of(*[{"radius": lambda radius, k=k: radius * k} for k in (0.92, 0.93, 0.91)]), 0.1)
    assert {finding.where for finding in worn.findings} == {"head", "heel"}
    assert all("lower at the edges" in finding.words for finding in worn.findings)


def test_a_run_that_was_gauged_across():
    """Radius off on both boards of a run, and a crown worn flat on both: the former, not the boards."""
    tight = [read_board(BOARD, None, 6.5, [station(radius, name="nut", at=0.0)]) for radius in (205.0, 208.0)]
    assert [(finding.cause, finding.where) for finding in read_run(tight, 0.1).findings] == [("shared", "nut")]
    assert "lower at the edges at the nut" in read_run(tight, 0.1).findings[0].words
    off = [read_board(BOARD, None, 6.5, [station(254.0, off=e, name="nut", at=0.0)]) for e in (1.2, 1.4)]
    assert "thicker at the treble side at the nut" in read_run(off, 0.1).findings[0].words
    worn = station(254.0, name="nut", at=0.0, bump=lambda y: -0.25 * np.exp(-((y / 9) ** 2)), points=11)
    shared = read_run([read_board(BOARD, None, 6.5, [worn])] * 2, 0.1).findings
    assert "Both boards of this run have the same flattened or peaked crown." in [finding.words for finding in shared]


def test_chance_is_seldom_taken_for_the_jig():
    """Boards that are off by chance, each its own way: five in a hundred come to look alike, for each thing read."""
    rng = np.random.default_rng(5)
    alarms = 0
    for _ in range(100):
        boards = [{"off": tuple(rng.normal(0, 0.3, 2)), "height": rng.normal(0, 0.05)} for _ in range(4)]
        alarms += bool(read_run(run_of(*boards), 0.1).findings)
    assert alarms <= 10
