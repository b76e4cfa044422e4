"""Travellers: what stands on them, and what is said when there is none."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from boards import printing
from boards.figures import worked
from boards.models import Blank
from boards.printing import PrintingFailed
from geometry.units import LengthStyle, format_fraction, format_inch, format_mm
from shop import pango
from shop.models import Build, Cutter, Shop
from shop.stages import DUST, MACHINE, REMINDER, STAGES
from tests.factories import (
    ON_NECK,
    make_blank,
    make_build,
    make_former,
    make_hand,
    make_jig,
    make_pattern,
    make_route,
    make_species,
)
from tests.print.paper import reader, rows_of, text_of, traveller_of

COLUMNS = ["From nut", "Bass edge", "Treble edge", "From last", "Width", "Radius", "Slot", "Web", "Edge"]
FANNED = {"bass_scale": Decimal("685.8"), "scale": Decimal("647.7"), "square_fret": 7, "frets": 24}


def address_of(blank: Blank) -> str:
    return reverse("boards:traveller", args=[blank.number])


def result_of(blank: Blank):
    return worked(Blank.objects.with_spec().get(pk=blank.pk), Shop.current()).result


def fret_rows(pdf: bytes) -> dict[int, list[str]]:
    """The fret table as it stands on the paper."""
    frets, columns = {}, 0
    for row in rows_of(pdf):
        if row[:3] == ["Fret", "From", "nut"]:
            columns = sum(name in " ".join(row) for name in COLUMNS)
        if columns and row[0].isdigit() and int(row[0]) == len(frets) + 1:
            frets[int(row[0])] = row[1 : columns + 1]  # what follows stands beside the table
    return frets


def test_it_works(bench):
    blank = make_blank(make_build(title="Lark, six strings", customer="A. Wren"))
    answer = bench.get(address_of(blank))
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == f'inline; filename="traveller-{blank.number}.pdf"'
    assert len(reader(answer.content).pages) == 2, "one sheet of paper"
    text = text_of(answer.content)
    for words in (blank.number, "Lark, six strings", "For A. Wren", "Pear, steamed", REMINDER, "Ida Bracken", "B901"):
        assert words in text


def test_a_code_that_no_phone_can_open_says_so(shop):
    blank = make_blank(make_build())
    first = reader(traveller_of(blank, shop, "http://localhost:8000")).pages[0].extract_text()
    assert "No phone can open localhost. Serve with --host 0.0.0.0" in " ".join(first.split())
    assert f"http://localhost:8000/scan/{blank.number}/" in first
    assert "No phone" not in text_of(traveller_of(blank, shop))


def test_every_fret_stands_there_as_geometry_has_it(shop):
    blank = make_blank(make_build())
    frets = fret_rows(traveller_of(blank, shop))
    expected = {
        fret.fret: [
            format_mm(value, 2, with_unit=False)
            for value in (fret.from_nut, fret.from_previous, fret.width, fret.slot_depth, fret.web, fret.edge_thickness)
        ]
        for fret in result_of(blank).board.frets[1:]
    }  # fmt: skip
    assert frets == expected
    assert frets[12][0] == "324.00", "an octave is half the string, 648 mm (equal temperament)"


def test_figures_of_the_stages_stand_there(shop):
    blank = make_blank(make_build())
    result, text = result_of(blank), text_of(traveller_of(blank, shop))
    for value in (result.thickness.before_radiusing, result.thickness.after_radiusing, result.thickness.intake_min,
                  result.corners.head, result.corners.heel, result.slots.depth_setting, result.slots.web_least,
                  result.blank_needed.length, result.blank_margin.length):  # fmt: skip
        assert format_mm(value, 2, with_unit=False) in text
    for place, key in enumerate(blank.stages):
        assert f"{place + 1} {STAGES[key].label}" in text


def test_every_caution_of_the_way_stands_there(shop):
    text = text_of(traveller_of(make_blank(make_build()), shop))
    for caution in {caution for stage in STAGES.values() for caution in stage.cautions}:
        assert caution in text
    assert text.count(MACHINE) == text.count(DUST) == 1, "said once for all the stages that share it"
    assert "Thicknessing, slotting, radiusing and tapering: Isolate" in text


def test_passes_stand_there_from_the_centreline_out(shop):
    shop.cutter = Cutter.objects.create(name="Cutter 12", diameter=Decimal(12), max_depth=Decimal(3))
    blank = make_blank(make_build())
    passes = worked(Blank.objects.with_spec().get(pk=blank.pk), shop).result.passes.list
    middle = len(passes) // 2
    for one, other in zip(passes, reversed(passes), strict=True):
        assert (one.number, one.depth) == (-other.number, pytest.approx(other.depth)), "one side says it all"
        assert one.angle_deg == pytest.approx(-other.angle_deg)
    rows = rows_of(traveller_of(blank, shop))
    numbers = [word for row in rows if row[0] == "Pass" for word in row[1:]]
    depths = [word for row in rows if row[0] == "Depth" for word in row[1:]]
    angles = [word for row in rows if row[0] == "Angle" for word in row[1:]]
    assert numbers == ["0", *(f"±{number}" for number in range(1, middle + 1))]
    assert depths == [format_mm(one.depth, 2, with_unit=False) for one in passes[middle:]]
    assert angles == [f"{one.angle_deg:.2f}°".replace("-0.00", "0.00") for one in passes[middle:]]


CONE = {"frets": 24, "radius_nut": Decimal(254), "radius_heel": Decimal("406.4")}
LONG = "The dark streak lies on the bass side, away from the frets above the twelfth; check it against the neck. " * 3
USUAL = {
    "guitar": ({}, {}),
    "cone, 24 frets": (CONE, {}),
    "bass": ({"scale": Decimal(863), "frets": 24, "heel_width": Decimal(64)}, {"length": Decimal(760)}),
    "flat": ({"radius_nut": None, "radius_heel": None}, {}),
    "two stops": (CONE, {"length": Decimal(500), "thickness": Decimal("6.9")}),
    "long remarks": ({**CONE, "remarks": LONG}, {"supplier": "A yard by the river", "lot": "L 17, box 3"}),
    "on the neck": ({"route": ON_NECK}, {}),
}


@pytest.mark.parametrize("lengths", ["mm", "inch"])
@pytest.mark.parametrize("kind", USUAL)
def test_one_sheet_of_paper_does_for_the_usual_board(shop, kind, lengths):
    shop.cutter = Cutter.objects.create(name="Cutter 20", diameter=Decimal(20), max_depth=Decimal(3))
    shop.paper, shop.lengths = "letter", lengths  # the shorter paper
    spec, measures = USUAL[kind]
    if "route" in spec:
        spec = {**spec, "route": make_route(spec["route"])}
    blank = make_blank(make_build(customer="A. Wren", due_on=timezone.localdate(), **spec),
                       **{"length": Decimal(560), **measures})  # fmt: skip
    pages = [page.extract_text() for page in reader(traveller_of(blank, shop)).pages]
    assert len(pages) == 2
    assert "From nut" in pages[1] and "Passes" in pages[1] and "In figures" in pages[1]
    assert "3 Radiusing" in pages[0] or kind == "on the neck"


def on_the_jig(shop, **formers):
    """The shop with a jig in use and these formers on its rack."""
    shop.cutter = Cutter.objects.create(name="Cutter 20", diameter=Decimal(20), max_depth=Decimal(3))
    shop.jig = make_jig(rule_zero=Decimal(100))
    for name, cuts in formers.items():
        make_former(shop.jig, name, cuts)


def test_the_jig_is_set_up_from_the_sheet(shop):
    on_the_jig(shop, twelve=304.8)
    blank = make_blank(make_build())
    result = worked(Blank.objects.with_spec().get(pk=blank.pk), shop).result
    text = text_of(traveller_of(blank, shop))
    assert "Former at the head twelve Former at the heel twelve Riser in" in text
    # Formers for this radius cut it at any place, so the board lies in the middle of the bed, 900 long.
    assert f"Nut on the bed's rule {(900 - result.board.length) / 2 - 100:.1f}" in text
    assert (
        "Comes out 304.8 mm at the nut, 304.8 mm at the heel: off by 0.000 at an edge at worst, the apex level." in text
    )


def test_the_sheet_says_how_long_the_cut_takes(shop):
    on_the_jig(shop, twelve=304.8)
    blank = make_blank(make_build(), done=2)
    passes = worked(Blank.objects.with_spec().get(pk=blank.pk), shop).result.passes
    # By hand: every pass once at each depth along a blank of 530 mm, at 1500 mm a minute.
    minutes = round(passes.count * passes.depth_levels * 530 / 1500)
    assert f"Passes {passes.count}, about {minutes} min" in text_of(traveller_of(blank, shop))


def test_a_jig_that_does_not_fit_says_what_comes_nearest(shop):
    on_the_jig(shop, ten=254, sixteen=406.4)
    blank = make_blank(make_build(**CONE), length=Decimal(560))
    setup = worked(Blank.objects.with_spec().get(pk=blank.pk), shop).result.setup
    text = text_of(traveller_of(blank, shop))
    assert not setup.fits
    assert "Nearest formers ten at the head, sixteen at the heel" in text
    assert f"off by {setup.edge_error:.3f} at an edge at worst" in text
    assert "STOP No two formers in the rack" in text


def test_a_jig_that_cannot_cut_it_at_all_says_why_on_the_first_page(shop):
    on_the_jig(shop, twelve=304.8)
    shop.jig.rail_plane = Decimal(36)
    blank = make_blank(make_build())
    trouble = worked(Blank.objects.with_spec().get(pk=blank.pk), shop).jig_trouble
    first = " ".join(reader(traveller_of(blank, shop)).pages[0].extract_text().split())
    assert "would run into it" in trouble and f"STOP {trouble}" in first


def test_a_flat_board_on_round_formers_says_how_round_it_comes_out(shop):
    on_the_jig(shop, twelve=304.8)
    text = text_of(traveller_of(make_blank(make_build(radius_nut=None, radius_heel=None)), shop))
    assert "Nearest formers twelve at the head, twelve at the heel" in text
    assert "Comes out round by 304." in text


def test_marks_of_the_passes_stand_there_for_both_ends(shop):
    on_the_jig(shop, ten=254, sixteen=406.4)
    blank = make_blank(make_build(**CONE), length=Decimal(560))
    passes = worked(Blank.objects.with_spec().get(pk=blank.pk), shop).result.passes.list
    right = passes[len(passes) // 2 :]
    rows = rows_of(traveller_of(blank, shop))
    for words, name in (("Head, along the arc", "head_arc"), ("Head, square across", "head_square"),
                        ("Heel, along the arc", "heel_arc"), ("Heel, square across", "heel_square")):  # fmt: skip
        assert [-getattr(one, name) for one in reversed(passes)] == pytest.approx([getattr(p, name) for p in passes])
        size = len(words.split())
        (row,) = [row[size:] for row in rows if row[:size] == words.split()]
        assert row == [format_mm(getattr(one, name), 2, with_unit=False) for one in right]


@pytest.mark.parametrize(("frets", "pages"), [(36, 1), (48, 2)])
def test_a_long_fret_table(shop, frets, pages):
    shop.paper = "letter"
    build = make_build(frets=frets, scale=Decimal(600), overhang=Decimal(5), heel_width=Decimal(60))
    pdf = traveller_of(make_blank(build, length=Decimal(620)), shop)
    assert list(fret_rows(pdf)) == list(range(1, frets + 1))
    with_frets = [page for page in reader(pdf).pages if "From nut" in page.extract_text()]
    assert len(with_frets) == pages, "and the head of the table again on a second page"
    assert len(reader(pdf).pages) <= 4


def test_fanned(shop):
    blank = make_blank(make_build(**FANNED), length=Decimal(600))
    pdf = traveller_of(blank, shop)
    fret = result_of(blank).board.frets[24]
    assert fret_rows(pdf)[24][:3] == [
        format_mm(value, 2, with_unit=False) for value in (fret.from_nut, fret.bass[0], fret.treble[0])
    ]
    assert "bass 685.8 mm, treble 647.7 mm, square at fret 7" in text_of(pdf)


def test_flat(shop):
    shop.cutter = Cutter.objects.create(name="Cutter 12", diameter=Decimal(12), max_depth=Decimal(3))
    pdf = traveller_of(make_blank(make_build(radius_nut=None, radius_heel=None)), shop)
    rows = rows_of(pdf)
    assert next(row for row in rows if row[0] == "Radius")[:2] == ["Radius", "flat"]
    assert not [row for row in rows if row[0] == "Angle"]
    assert "Frets mm, from the nut face along the board; flat" in text_of(pdf)


def test_decimal_inches(shop):
    shop.lengths = LengthStyle.INCH_DECIMAL.value
    blank = make_blank(make_build(scale=Decimal("647.7")))
    pdf, fret = traveller_of(blank, shop), result_of(blank).board.frets[12]
    assert fret_rows(pdf)[12][0] == format_inch(fret.from_nut, with_unit=False) == "12.750"  # 25.5 in, halved
    assert "± 0.004" in text_of(pdf)  # 0.1 mm


def test_fractions_of_an_inch(shop):
    shop.lengths = LengthStyle.INCH_FRACTION.value
    blank = make_blank(make_build(scale=Decimal("647.7")))
    pdf, frets = traveller_of(blank, shop), result_of(blank).board.frets
    assert " ".join(fret_rows(pdf)[12]).startswith("12 3/4 ")
    from_nut = format_fraction(frets[7].from_nut, with_unit=False)
    assert " ".join(from_nut.split()) in " ".join(fret_rows(pdf)[7])


def test_on_the_neck_no_corner_is_asked_for(shop):
    text = text_of(traveller_of(make_blank(make_build(route=make_route(ON_NECK))), shop))
    assert "5 Radiusing" in text and "Riser out" in text
    assert "no caliper reaches under a board on its neck" in text
    assert "Head, treble side" not in text and "Head, treble side" in text_of(
        traveller_of(make_blank(make_build("B2")), shop)
    )


def test_what_is_done_shows_as_done(shop, maker):
    blank = make_blank(make_build(), hand=make_hand(maker), done=2)
    text = text_of(traveller_of(blank, shop))
    assert text.count("Done by Ida Bracken") == 2
    read = blank.log.get(stage="slotting").readings["depth"]
    assert f"Slot depth {format_mm(Decimal(read), 2, with_unit=False)}" in text
    assert text.count("Initials, day") == 3


def test_what_the_gauge_read_stands_at_the_radius(shop, maker):
    blank = make_blank(make_build(), done=3)
    blank.gauge(make_hand(), blank.version, "Rework. Nut: radius 310 mm, its middle 0.8 mm to the treble.", {})
    assert "Gauged: Rework. Nut: radius 310 mm, its middle 0.8 mm to the treble." in " ".join(
        text_of(traveller_of(blank, shop)).split()
    )
    blank.rework(make_hand(), blank.version, "radiusing", "Off the centreline")
    assert "Gauged:" not in text_of(traveller_of(blank, shop)), "that curve is to be cut again"


def test_a_stage_sent_back_is_to_do_again(shop, maker):
    blank = make_blank(make_build(), hand=make_hand(maker), done=2)
    blank.rework(make_hand(maker), blank.version, "slotting", "Too shallow.")
    text = text_of(traveller_of(blank, shop))
    assert text.count("Done by") == 1 and text.count("Initials, day") == 4


def test_held_says_why_at_the_top(shop, maker):
    blank = make_blank(make_build(), done=1)
    blank.hold(make_hand(maker), blank.version, "A shake at the heel.")
    first = reader(traveller_of(blank, shop)).pages[0].extract_text()
    assert "HELD A shake at the heel." in " ".join(first.split())


def test_what_would_spoil_it_stands_on_the_first_page(shop):
    blank = make_blank(make_build(), length=Decimal(400))
    first = " ".join(reader(traveller_of(blank, shop)).pages[0].extract_text().split())
    (stop,) = [warning for warning in result_of(blank).warnings if warning.code == "blank-short"]
    assert f"STOP {stop.message}" in first


def test_notes_on_the_wood_are_dated(shop):
    wood = make_species("Lignum", trade_note="Listed.", trade_note_on="2026-01-05", dust_note="A sensitiser.",
                        dust_note_on="2025-06-01")  # fmt: skip
    blank = make_blank(make_build(), species=wood)
    blank.refresh_from_db()
    text = text_of(traveller_of(blank, shop))
    assert "Listed. As of 5 Jan 2026. The national authority decides." in text
    assert "A sensitiser. As of 1 Jun 2025." in text


def test_a_pattern_has_one_too(shop):
    assert "Lark" in text_of(traveller_of(make_blank(make_pattern()), shop))


def test_the_same_blank_twice_gives_the_same_bytes(shop):
    blank = make_blank(make_build())
    first = traveller_of(blank, shop, afresh=True)
    printing._presses.stop()
    assert traveller_of(blank, shop, afresh=True) == first


# The bench


def test_the_queue_of_a_bench_in_its_order(bench):
    day = timezone.localdate()
    late = make_blank(make_build("B1", due_on=day + timedelta(days=9)))
    soon = make_blank(make_build("B2", due_on=day + timedelta(days=1), thickness=Decimal("6.5")))
    mate = make_blank(make_build("B3", due_on=day + timedelta(days=30), thickness=Decimal("6.5")))
    answer = bench.get(reverse("boards:bench-travellers", args=["thicknessing"]))
    pages = [page.extract_text() for page in reader(answer.content).pages]
    firsts = [k for k, text in enumerate(pages) if "Page 1 of" in text and "Notes on" not in text]
    order = [next(b.number for b in (late, soon, mate) if b.number in pages[k]) for k in firsts]
    assert order == [soon.number, mate.number, late.number], "those that share a setup go together, the earliest first"
    assert all(k % 2 == 0 for k in firsts), "each board on paper of its own, on a printer that prints both sides"


def test_a_queue_costs_as_many_queries_for_one_as_for_four(bench, django_assert_num_queries, monkeypatch):
    monkeypatch.setattr("boards.handing_out.print_pdf", lambda sheets, title, **more: b"%PDF")
    address = reverse("boards:bench-travellers", args=["slotting"])
    make_blank(make_build("B1"), done=1)
    with CaptureQueriesContext(connection) as one:
        bench.get(address)
    for number in ("B2", "B3", "B4"):
        make_blank(make_build(number), done=1)
    with django_assert_num_queries(len(one)):
        bench.get(address)


def test_what_cannot_be_worked_out_is_named_on_the_last_page(bench):
    make_blank(make_build("B1"))
    bad = make_blank(make_build("B2"))
    Build.objects.filter(number="B2").update(radius_nut=20, radius_heel=20)
    answer = bench.get(reverse("boards:bench-travellers", args=["thicknessing"]))
    last = reader(answer.content).pages[-1].extract_text()
    assert bad.number in last and "cannot be worked out" in " ".join(last.split())


# When there is none


def test_without_a_spec(bench):
    blank = make_blank()
    answer = bench.get(address_of(blank))
    assert answer.status_code == 409
    assert f"{blank.number} needs a spec first" in answer.content.decode()


def test_a_spec_that_cannot_be_worked_out(bench):
    blank = make_blank(make_build())
    Build.objects.update(radius_nut=20, radius_heel=20)
    answer = bench.get(address_of(blank))
    assert answer.status_code == 409
    assert f"{blank.number} cannot be worked out: " in answer.content.decode()


def test_nothing_at_the_bench(bench):
    answer = bench.get(reverse("boards:bench-travellers", args=["gluing"]))
    assert answer.status_code == 409
    assert "No board waits for gluing." in answer.content.decode()


@pytest.mark.parametrize("address", ["/benches/polishing/travellers.pdf", "/blanks/NONE/traveller.pdf"])
def test_no_such_thing(bench, address):
    assert bench.get(address).status_code == 404


def test_a_stranger_has_to_sign_in(client, maker):
    assert client.get(address_of(make_blank(make_build()))).status_code == 302


def test_nothing_is_changed_by_a_post(bench):
    assert bench.post(address_of(make_blank(make_build()))).status_code == 405


def test_printing_that_fails_says_so(bench, monkeypatch):
    def fails(sheets, title, **more):
        raise PrintingFailed("Printing broke off. Try again.")

    monkeypatch.setattr("boards.handing_out.print_pdf", fails)
    answer = bench.get(address_of(make_blank(make_build())))
    assert answer.status_code == 503
    assert "Printing broke off. Try again." in answer.content.decode()


def test_without_pango_the_pages_say_what_to_type(bench, monkeypatch):
    monkeypatch.setattr(pango, "printing_available", lambda: False)
    monkeypatch.setattr(pango, "missing", lambda: ["Pango"])
    monkeypatch.setattr(pango, "system", lambda: "debian")
    blank = make_blank(make_build())
    answer = bench.get(address_of(blank))
    assert answer.status_code == 503
    assert "sudo apt-get install libpango-1.0-0" in answer.content.decode()
    for page in (
        reverse("boards:blank", args=[blank.number]),
        reverse("boards:bench", args=["thicknessing"]),
        reverse("shop:build", args=["B901"]),
    ):
        shown = bench.get(page).content.decode()
        assert "Printing is off on this machine." in shown
        assert '<button type="button" disabled>Print' in shown


def test_pages_lead_to_it(bench):
    blank = make_blank(make_build())
    assert f'href="{address_of(blank)}">Print its traveller' in bench.get(f"/blanks/{blank.number}/").content.decode()
    assert "thicknessing/travellers.pdf" in bench.get("/benches/thicknessing/").content.decode()
