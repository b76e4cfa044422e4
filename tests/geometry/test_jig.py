import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given

from geometry.errors import GeometryError
from geometry.jig import Pairs, rail_height, rests
from geometry.request import EndRadii, Former, Jig, TwoScales
from geometry.surface import sagitta
from geometry.workout import work_out
from tests.geometry.carving import Carving, circle_within
from tests.geometry.samples import BOARD, CUTTER, FANNED, ask, lengths, steady

JIG = Jig(900.0, 60.0, 120.0, 20.0, 110.0, 30.0)


def on_jig(**rest):
    return ask(**{"cutter": CUTTER, "jig": JIG, **rest})


def made(request, apex=None):
    """Ask for the formers to make, and put them in the rack."""
    pair = work_out(request).formers_to_make
    return replace(request, formers=tuple(Former(f.end, f.radius, f.apex if apex is None else apex) for f in pair))


CARVED = {
    "cone": on_jig(),
    "cone the other way": on_jig(radius=EndRadii(406.4, 254.0)),
    "cylinder": on_jig(radius=EndRadii(304.8, 304.8)),
    "fanned": on_jig(board=FANNED),
    "wide bass board": on_jig(
        scale=TwoScales(889.0, 838.2, 5), nut_width=48.0, heel_width=75.0, jig=replace(JIG, span=1200.0)
    ),
    "rails close together": on_jig(jig=replace(JIG, rail_spacing=40.0, rail_diameter=8.0)),
}


def carve(request):
    """Set up the carving of a request that has formers: also the rolls of its passes, the cutter depth, the apex."""
    result, jig = work_out(request), request.jig
    head, heel = (
        next(f for f in request.formers if f.name == name)
        for name in (result.setup.head_former, result.setup.heel_former)
    )
    carving = Carving(
        jig.span, ((head.radius, head.apex), (heel.radius, heel.apex)), jig.rail_spacing, jig.rail_diameter
    )
    apex = jig.riser + jig.packing + result.thickness.after_radiusing
    below = carving.cutter_depth(result.setup.nut_at + result.board.length / 2, apex)
    return carving, np.radians([p.angle_deg for p in result.passes.list]), below, apex


def yawed(request, radius, apex, growth):
    """Estimate how much smaller a cone comes out because the frame swings sideways as it goes round.

    Own derivation: swung by the angle a on a cone, the rails stand g/cos(a) apart across a former, which lowers the
    rail plane there by g² a²/8ρ, where a is the growth of the radius times the angle of the pass.
    """
    return request.jig.rail_spacing**2 * growth**2 / (4 * (radius + request.jig.rail_plane - apex))


@pytest.mark.parametrize("request_", CARVED.values(), ids=CARVED)
def test_the_pair_to_make_carves_the_board(request_):
    """Carve the board in three dimensions with the pair to make; read radius, level and scallop off it.

    On a cylinder the radius is right to 0.01 mm. On a cone the curve is right to 0.01 mm in height over the board's
    width, and the radius that is read off it is smaller by what the swing of the frame explains.
    """
    request = made(request_)
    result, board = work_out(request), request.board
    carving, rolls, below, apex = carve(request)
    assert below == pytest.approx(request.jig.rail_plane - apex, abs=0.01)
    growth = (board.radius.heel - board.radius.nut) / result.board.length
    for x, radius, width in (
        (0.0, board.radius.nut, board.nut_width),
        (result.board.length, board.radius.heel, board.heel_width),
    ):
        u = result.setup.nut_at + x
        y, z, carved = circle_within(carving.facets(rolls, below, u))
        swing = yawed(request, radius, apex, growth)
        assert carved == pytest.approx(radius - swing, abs=0.01 + swing / 2)
        assert sagitta(carved, width) == pytest.approx(sagitta(radius, width), abs=0.01)
        assert y == pytest.approx(0, abs=0.01)
        assert z + carved == pytest.approx(apex, abs=0.01)
        half = np.linspace(0, result.blank_needed.width / 2 - 0.5, 4000)
        surface = carving.surface(rolls, below, u, half, request.cutter.diameter)
        assert np.isfinite(surface).all()
        ridges = np.hypot(half - y, surface - z) - carved
        assert ridges.min() == pytest.approx(0, abs=0.01)
        step = math.radians(result.passes.step_deg)
        inner = half < radius * math.sin(step * (result.passes.count // 2))
        assert ridges[inner].max() == pytest.approx(radius * (1 / math.cos(step / 2) - 1), abs=0.01)
        assert ridges[inner].max() <= result.passes.scallop + 0.01


def test_a_cone_too_steep_for_the_rails_is_off_by_hundredths_only():
    """From 200 to 500 mm, past anything usual, the swing of the frame costs 0.05 mm at the edge of the nut."""
    request = made(on_jig(radius=EndRadii(200.0, 500.0)))
    carving, rolls, below, _ = carve(request)
    _, _, carved = circle_within(carving.facets(rolls, below, work_out(request).setup.nut_at))
    assert 0.03 < sagitta(carved, 43) - sagitta(200, 43) < 0.06


def test_marks_are_where_the_frame_comes_to_lie():
    request = made(on_jig())
    result = work_out(request)
    head, heel = result.formers_to_make
    carving = Carving(900.0, ((head.radius, head.apex), (heel.radius, heel.apex)), 120.0, 20.0)
    for mark in result.passes.list:
        point, along, _, _ = carving.plane(math.radians(mark.angle_deg), 0.0)
        for u, former, arc, square in (
            *[(0.0, head, mark.head_arc, mark.head_square), (900.0, heel, mark.heel_arc, mark.heel_square)],
        ):
            at = point + along * (u - point[0]) / along[0]
            angle = math.atan2(at[1], at[2] - (former.apex - former.radius))
            assert former.radius * angle == pytest.approx(arc, abs=0.02)
            assert former.radius * math.sin(angle) == pytest.approx(square, abs=0.02)
    outer = result.passes.list[-1]
    assert outer.heel_arc > outer.head_arc * 1.5


def test_unlike_formers_of_equal_height_carve_a_wedge():
    """Two formers of unlike radius and equal apex height do not give a level apex; the carved board says how much."""
    request = made(on_jig(), apex=105.0)
    result = work_out(request)
    setup, length = result.setup, result.board.length
    warning = next(w for w in result.warnings if w.code == "apex-drift")
    assert warning.level == "caution" and warning.value == abs(setup.apex_drift) > 0.5
    carving, rolls, below, apex = carve(request)
    (_, z0, r0), (_, z1, r1) = (circle_within(carving.facets(rolls, below, setup.nut_at + x)) for x in (0.0, length))
    assert (z1 + r1) - (z0 + r0) == pytest.approx(setup.apex_drift, abs=0.01)
    growth = (setup.heel_radius - setup.nut_radius) / length
    for carved, radius, width in ((r0, setup.nut_radius, 43), (r1, setup.heel_radius, 57)):
        assert carved == pytest.approx(radius, abs=0.01 + 1.5 * yawed(request, radius, apex, growth))
        assert sagitta(carved, width) == pytest.approx(sagitta(radius, width), abs=0.01)
    assert not setup.fits


@pytest.mark.parametrize("request_", CARVED.values(), ids=CARVED)
def test_the_pair_to_make_fits_to_a_millionth(request_):
    result = work_out(made(request_))
    setup, radius = result.setup, request_.board.radius
    assert setup.nut_radius == pytest.approx(radius.nut, abs=1e-6)
    assert setup.heel_radius == pytest.approx(radius.heel, abs=1e-6)
    assert setup.apex_drift == pytest.approx(0, abs=1e-9)
    assert setup.edge_error < 1e-9
    assert setup.fits
    if radius.nut != radius.heel:
        assert setup.nut_at == pytest.approx((request_.jig.span - result.board.length) / 2, abs=1e-5)
    assert not [w for w in result.warnings if w.code in ("no-former-fits", "apex-drift", "jig-too-short")]


def test_a_frame_of_nothing_rests_on_the_arc_itself():
    bare = replace(JIG, rail_spacing=0.0, rail_diameter=0.0)
    assert rail_height(bare, [200.0, 300.0]).tolist() == [200, 300]
    head, heel = work_out(on_jig(jig=bare)).formers_to_make
    result = work_out(on_jig())
    below = 110 - (30 + 0.2 + result.thickness.after_radiusing)
    slope = (406.4 - 254) / result.board.length
    nut_at = (900 - result.board.length) / 2
    assert head.radius == pytest.approx(254 - slope * nut_at + below)
    assert heel.radius == pytest.approx(254 + slope * (900 - nut_at) + below)
    assert head.apex == heel.apex == pytest.approx(110)
    half_angle = math.radians(work_out(on_jig()).passes.half_angle_deg)
    assert head.half_width == pytest.approx(head.radius * math.sin(half_angle) + 10)


@steady
@given(lengths(150, 600), lengths(0, 250), lengths(4, 30))
def test_equal_formers_cut_a_cylinder_wherever_the_board_lies(radius, spacing, diameter):
    jig = replace(JIG, rail_spacing=spacing + diameter, rail_diameter=diameter)
    pairs = Pairs.of(jig, (radius, 105.0), (radius, 105.0))
    for nut_at in (70.0, 300.0):
        cut = pairs.cut(np.array(nut_at), np.array(470.0), np.array(36.7))
        assert cut.nut_radius == cut.heel_radius
        assert cut.drift == 0
        # The radius follows the board's height one for one.
        higher = pairs.cut(np.array(nut_at), np.array(470.0), np.array(39.7))
        assert higher.nut_radius - cut.nut_radius == pytest.approx(3)


def test_a_flat_board_asks_for_straight_edges():
    flat = work_out(on_jig(radius=None))
    assert [(f.radius, f.apex) for f in flat.formers_to_make] == [(None, 100.0)] * 2
    assert [f.half_width for f in flat.formers_to_make] == [63 / 2 + 60 + 10] * 2
    nearly = work_out(on_jig(radius=EndRadii(50_000.0, 50_000.0)))
    for former in nearly.formers_to_make:
        assert former.apex == pytest.approx(100, abs=0.05)
        assert former.half_width == pytest.approx(63 / 2 + 60 + 10, abs=0.1)


def test_a_flat_board_is_not_cut_on_round_formers():
    result = work_out(on_jig(radius=None, formers=(Former("A", 300.0, 105.0, 2), Former("B", 500.0, 105.0, 2))))
    assert (result.setup.head_former, result.setup.heel_former, result.setup.fits) == ("B", "B", False)
    assert "no-former-fits" in {w.code for w in result.warnings}
    assert result.passes.list[0].head_square == pytest.approx(-25.2)


def test_half_width_holds_the_outer_rail():
    result = work_out(on_jig())
    for former in result.formers_to_make:
        lean = math.asin(60 / (former.radius + 10))
        reach = former.radius * math.sin(math.radians(result.passes.half_angle_deg) + lean)
        assert former.half_width == pytest.approx(reach + 10)


def test_a_frame_rests_where_the_arc_is_rounder_than_the_rails_are_apart():
    assert rests(JIG, 300.0)
    assert not rests(JIG, 50.0)
    assert rests(JIG, 50.1)


WRONG = {
    "rails wider than a former": (
        {"formers": (Former("A", 45.0, 105.0, 2),)},
        "formers[0].radius",
        "too far apart to lie on",
    ),
    "rails through one another": (
        {"jig": replace(JIG, rail_spacing=15.0)},
        "jig.rail_spacing",
        "run 5 mm into one another",
    ),
    "no bed": ({"jig": replace(JIG, end_clearance=450.0)}, "jig.end_clearance", "leaves no bed between them"),
    "rails in the board": (
        {"jig": replace(JIG, rail_plane=45.0, rail_spacing=70.0)},
        "jig.rail_plane",
        "would run into it",
    ),
    "plane below the board": ({"jig": replace(JIG, rail_plane=36.0)}, "jig.rail_plane", "36.85 mm above the bed"),
    "riser taller than the jig": ({"jig": replace(JIG, riser=200.0)}, "jig.riser", "90.2 mm above the rails"),
    "formers in the bed": (
        {"jig": replace(JIG, rail_spacing=500.0, rail_plane=20.0, riser=0.0), "radius": EndRadii(254.0, 254.0)},
        *("jig.rail_plane", "below the bed at its sides"),
    ),
    "a cone to a point": ({"jig": replace(JIG, span=9000.0)}, "board.radius.nut", "comes down to nothing"),
    "no cutter": ({"cutter": None}, "cutter", "without its cutter"),
}


@pytest.mark.parametrize(("changes", "field", "words"), WRONG.values(), ids=WRONG)
def test_a_jig_that_cannot_be_is_said_in_words(changes, field, words):
    with pytest.raises(GeometryError) as caught:
        work_out(on_jig(**changes))
    assert [problem.field for problem in caught.value.problems] == [field]
    assert words in str(caught.value)


def test_a_jig_needs_no_formers():
    result = work_out(on_jig(board=BOARD))
    assert result.setup is None
    assert len(result.formers_to_make) == 2
    assert result.passes.list[0].head_arc is None
    (warning,) = result.warnings
    assert (warning.code, warning.level) == ("no-former-fits", "stop")
