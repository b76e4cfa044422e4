import itertools
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geometry.jig import Pairs
from geometry.rack import choose, room
from geometry.request import BlankSize, EndRadii, Former, Jig
from geometry.rigging import work_of
from geometry.stack import stacked
from geometry.surface import sagitta
from geometry.workout import work_out, work_out_many, work_out_stack
from tests.geometry.samples import CUTTER, ask, lengths, steady

JIG = Jig(900.0, 60.0, 120.0, 20.0, 110.0, 30.0)


def level(name, radius, count=2):
    """Make a former for this jig: its rail plane lies where the jig's does."""
    return Former(name, radius, 110 + radius - ((radius + 10) ** 2 - 60**2) ** 0.5, count)


RACK = tuple(level(f"F{radius}", float(radius)) for radius in range(260, 560, 20))


def on_jig(**rest):
    return ask(**{"cutter": CUTTER, "jig": JIG, "formers": RACK, **rest})


def work(*requests):
    return work_of(work_out_stack(stacked(requests)), np.arange(len(requests)))


def height_errors(request, head, heel, nut_at, board_length):
    """How far the surface is off in height at the middle and the edge of both ends, from the note's own formulas."""
    jig, board = request.jig, request.board
    apex = jig.riser + jig.packing + board.thickness + request.allowances.sanding
    rail = [
        f.apex - f.radius + ((f.radius + jig.rail_diameter / 2) ** 2 - (jig.rail_spacing / 2) ** 2) ** 0.5
        for f in (head, heel)
    ]
    m = (rail[1] - rail[0]) / jig.span
    z = [apex + m * (u - nut_at - board_length / 2) for u in (0, jig.span)]
    cut = [f.radius + zi - f.apex for f, zi in zip((head, heel), z, strict=True)]
    errors = []
    for x, width, wanted in (
        (0, board.nut_width, board.radius.nut),
        (board_length, board.heel_width, board.radius.heel),
    ):
        radius = cut[0] + (cut[1] - cut[0]) * (nut_at + x) / jig.span
        middle = m * (x - board_length / 2)
        if not 2 * radius > width:
            return np.inf
        errors += [abs(middle), abs(middle - float(sagitta(radius, width) - sagitta(wanted, width)))]
    return max(errors)


def by_hand(request):
    """Try every ordered pair at a comb of places along the bed, and then a finer comb round the best of each."""
    length = float(work_out(replace(request, jig=None, formers=())).board.length)
    first, last = (float(end[0]) for end in room(request.jig, work(replace(request, formers=()))))
    best = {}
    for head, heel in itertools.product(request.formers, repeat=2):
        if min(head.count, heel.count) < 1 or (head == heel and head.count < 2):
            continue
        low, high = first, last
        for _ in range(5):
            places = np.linspace(low, high, 21)
            errors = [height_errors(request, head, heel, place, length) for place in places]
            middle, gap = places[int(np.argmin(errors))], (high - low) / 10
            low, high = max(first, middle - gap), min(last, middle + gap)
        best[head.name, heel.name] = min(errors)
    return best


@pytest.mark.parametrize("radius", [(254.0, 406.4), (241.3, 304.8), (304.8, 304.8), (406.4, 254.0), (215.0, 520.0)])
def test_the_choice_is_the_best_of_all_pairs_and_places(radius):
    rack = RACK[1::3]
    request = on_jig(radius=EndRadii(*radius), formers=rack)
    setup = work_out(request).setup
    tried = by_hand(request)
    assert len(tried) == len(rack) ** 2
    assert setup.edge_error == pytest.approx(min(tried.values()), abs=1e-5)
    assert tried[setup.head_former, setup.heel_former] == pytest.approx(setup.edge_error, abs=1e-5)


@steady
@given(
    st.lists(st.tuples(lengths(230, 600), lengths(100, 112), st.integers(0, 2)), min_size=1, max_size=4),
    lengths(210, 320),
    lengths(250, 500),
)
def test_the_choice_from_a_rack_that_is_not_level(measured, nut, heel):
    formers = tuple(Former(str(n), *figures) for n, figures in enumerate(measured))
    request = on_jig(radius=EndRadii(nut, heel), formers=formers)
    setup, tried = work_out(request).setup, by_hand(request)
    assert (setup is None) == (not tried or min(tried.values()) == np.inf)
    if setup is None:
        return
    worst = height_errors(
        request,
        *(formers[int(name)] for name in (setup.head_former, setup.heel_former)),
        setup.nut_at,
        work_out(ask()).board.length,
    )
    assert worst == pytest.approx(min(tried.values()), abs=2e-4)
    assert setup.fits == (worst <= JIG.edge_tolerance)


def test_a_kind_needs_as_many_pieces_as_it_stands_in_places():
    cylinder = EndRadii(304.8, 304.8)
    exact = work_out(on_jig(radius=cylinder)).formers_to_make[0]
    for count, names in ((2, ("exact", "exact")), (1, None), (0, None)):
        rack = (Former("exact", exact.radius, exact.apex, count), level("other", 460.0))
        setup = work_out(on_jig(radius=cylinder, formers=rack)).setup
        if names:
            assert (setup.head_former, setup.heel_former) == names
        else:
            assert (setup.head_former, setup.heel_former) != ("exact", "exact")
    assert work_out(on_jig(formers=(level("single", 300.0, 1),))).setup is None


def test_a_tie_goes_to_what_stands_on_the_jig():
    twins = (level("A", 383.0), level("B", 383.0), level("C", 520.0))
    request = on_jig(radius=EndRadii(310.0, 310.0), formers=twins)

    def chosen(standing=None):
        setup = work_out(request, standing=standing).setup
        return setup.head_former, setup.heel_former

    assert chosen() == ("A", "A")
    for pair in itertools.product("AB", repeat=2):
        assert chosen(pair) == pair
    assert chosen(("C", "B")) == ("A", "B")
    assert chosen(("B", "C")) == ("B", "A")
    assert chosen(("C", "C")) == chosen(("nothing", "known")) == ("A", "A")
    assert work_out_many([request], standing=("B", "B"))[0].setup.head_former == "B"


def test_what_stands_on_the_jig_gives_way_to_what_fits_better():
    pair = work_out(on_jig()).formers_to_make
    rack = tuple(Former(f.end, f.radius, f.apex) for f in pair) + (level("C", 383.0),)
    setup = work_out(on_jig(formers=rack), standing=("C", "C")).setup
    assert (setup.head_former, setup.heel_former) == ("head", "heel")


def test_a_board_goes_in_either_way_about():
    pair = work_out(on_jig()).formers_to_make
    rack = tuple(Former(f.end, f.radius, f.apex) for f in pair)
    there = work_out(on_jig(formers=rack)).setup
    turned = work_out(on_jig(formers=rack, radius=EndRadii(406.4, 254.0))).setup
    assert (turned.head_former, turned.heel_former) == (there.heel_former, there.head_former)


def test_a_bed_too_short_for_the_blank():
    result = work_out(on_jig(jig=replace(JIG, span=600.0)))
    warning = next(w for w in result.warnings if w.code == "jig-too-short")
    assert result.setup is None and result.passes.list[0].head_arc is None
    assert (warning.level, warning.limit) == ("stop", 480)
    assert warning.value == pytest.approx(518.945333, abs=5e-7)
    assert warning.message.startswith("The blank is 519 mm long, and the bed takes 480 mm between its end clearances.")
    shorter = work_out(on_jig(jig=replace(JIG, span=600.0), blank=BlankSize(480, 63, 8)))
    assert shorter.setup is not None
    assert shorter.setup.nut_at == pytest.approx(70)


def test_the_whole_blank_lies_on_the_bed():
    for nut, heel in ((254.0, 406.4), (300.0, 310.0), (500.0, 260.0)):
        result = work_out(on_jig(radius=EndRadii(nut, heel)))
        at = result.setup.nut_at
        assert at - 10 >= 60 - 1e-9
        assert at - 10 + result.blank_needed.length <= 840 + 1e-9


def test_not_fitting_is_still_reported():
    result = work_out(on_jig(formers=(level("A", 300.0),)))
    assert result.setup.fits is False
    warning = next(w for w in result.warnings if w.code == "no-former-fits")
    assert warning.value == pytest.approx(result.setup.edge_error) and warning.limit == 0.05
    assert "A at the head and A at the heel" in warning.message


def test_a_former_lower_than_the_board_is_never_chosen():
    result = work_out(on_jig(formers=(Former("low", 300.0, 20.0, 2),)))
    assert result.setup is None
    assert "measure again" in next(w.message for w in result.warnings if w.code == "no-former-fits")


def test_thirty_formers_and_many_boards_give_the_same_as_one_by_one():
    rack = tuple(level(f"F{n}", 250.0 + 11 * n, 1 + n % 2) for n in range(30))
    requests = [on_jig(radius=EndRadii(230.0 + n, 300.0 + 2 * n), formers=rack) for n in range(40)]
    assert [r.setup for r in work_out_many(requests)] == [work_out(request).setup for request in requests]
    again = choose(JIG, rack, work(*requests))
    assert (again.edge_error <= 0.3).all()


def test_boards_on_unlike_jigs_in_one_stack():
    short = replace(JIG, span=700.0)
    requests = [on_jig(), ask(), on_jig(jig=short), on_jig(formers=RACK[:3]), on_jig(board=ask().board, cutter=CUTTER)]
    assert work_out_many(requests) == [work_out(request) for request in requests]


def test_radius_is_linear_along_the_jig():
    pairs = Pairs.of(JIG, (260.0, 104.0), (480.0, 103.0))
    cut = pairs.cut(np.array([100.0, 200.0, 300.0]), np.array(400.0), np.array(36.7))
    assert np.diff(cut.nut_radius, 2) == pytest.approx([0], abs=1e-9)
    assert cut.drift == pytest.approx(pairs.tilt * 400)
