"""Getting a drawing at full size: the files, the pages that lead there, and what is said when there is none."""

import math
import re
from decimal import Decimal

import pytest
from django.urls import reverse

from boards import fullsize
from boards.fullsize import NO_CUTTER, NO_JIG
from boards.printing import PrintingFailed
from geometry.shapes import reach_of_former
from geometry.workout import work_out
from shop import pango
from shop.models import Build, Cutter, Former, Shop
from tests.factories import make_blank, make_build, make_former, make_jig
from tests.print.drawn import read_dxf, read_svg
from tests.print.paper import reader, seen_by_pdfium

TEMPLATES = ("taper-template", "slotting-template", "centreline-gauge")
FORMERS = ("head-former", "heel-former")
KINDS = {"pdf": "application/pdf", "svg": "image/svg+xml", "dxf": "image/vnd.dxf"}


@pytest.fixture
def jig(shop):
    jig = make_jig(hole_spacing=100, hole_diameter=6.5, hole_height=20)
    cutter = Cutter.objects.create(name="Cutter 16", diameter=Decimal(16), max_depth=Decimal(2))
    Shop.objects.update(jig=jig, cutter=cutter)
    return jig


def of_build(what: str, kind: str = "svg", build: str = "B901") -> str:
    return reverse("boards:full-size", args=[build, what, kind])


def of_former(former: Former, kind: str = "svg") -> str:
    return reverse("boards:former-full-size", args=[former.pk, kind])


def words_of(content: bytes) -> str:
    return " ".join(text for group in read_svg(content).words.values() for text in group)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("what", TEMPLATES + FORMERS)
def test_it_works(bench, jig, what, kind):
    make_build(radius_nut=Decimal(254), radius_heel=Decimal("406.4"))
    answer = bench.get(of_build(what, kind))
    assert answer.status_code == 200 and answer["Content-Type"] == KINDS[kind]
    how = "attachment" if kind == "dxf" else "inline"
    assert answer["Content-Disposition"] == f'{how}; filename="{what}-B901.{kind}"'
    assert answer["Cache-Control"] == "no-store"


def test_the_pair_is_the_one_that_geometry_works_out(bench, jig):
    build = make_build(radius_nut=Decimal(254), radius_heel=Decimal("406.4"))
    blank = make_blank(build, width=Decimal(74))
    asked = build.as_request(
        jig=jig.as_request(), cutter=Cutter.objects.get(name="Cutter 16").as_request(), blank=blank.size
    )
    for what, made in zip(FORMERS, work_out(asked).formers_to_make, strict=True):
        found = read_dxf(bench.get(of_build(what, "dxf")).content)
        ((centre, radius, left, right),) = found.arcs["Outline"]
        assert radius == pytest.approx(made.radius, abs=0.001)
        assert centre[1] + radius == pytest.approx(made.apex, abs=0.001)
        assert (right[0], left[0]) == pytest.approx((made.half_width, -made.half_width), abs=0.001)
        assert found.circles["Screw holes"] == [((-50, 20), 3.25), ((50, 20), 3.25)]
        assert made.end.capitalize() + " end, B901" in found.words["Words"]


def test_a_wider_blank_asks_for_a_wider_former(bench, jig):
    build = make_build()
    before = read_svg(bench.get(of_build("head-former")).content).arcs["Outline"][0][3][0]
    make_blank(build, width=Decimal(90))
    assert read_svg(bench.get(of_build("head-former")).content).arcs["Outline"][0][3][0] > before + 10


def test_a_flat_build_has_straight_edges(bench, jig):
    make_build(radius_nut=None, radius_heel=None)
    found = read_dxf(bench.get(of_build("heel-former", "dxf")).content)
    assert not found.arcs and "For a flat board" in found.words["Words"]


def test_a_former_of_the_rack(bench, jig):
    former = make_former(jig, "12", 304.8, width=Decimal(210))
    found = read_dxf(bench.get(of_former(former, "dxf")).content)
    ((centre, radius, left, right),) = found.arcs["Outline"]
    assert radius == pytest.approx(float(former.radius), abs=0.001)
    assert centre[1] + radius == pytest.approx(float(former.apex), abs=0.001)
    assert right[0] - left[0] == pytest.approx(210, abs=0.001)
    assert "Pass marks" not in found.lines
    assert {"Former 12", "Bench jig"} <= set(found.words["Words"])
    assert not any("Caution" in words for words in found.words["Words"])
    assert bench.get(of_former(former, "pdf"))["Content-Disposition"] == 'inline; filename="former-12-bench-jig.pdf"'


def test_with_the_marks_of_a_build(bench, jig):
    former = make_former(jig, "12", 304.8)
    build = make_build()
    cutter = Cutter.objects.get(name="Cutter 16").as_request()
    passes = work_out(build.as_request(cutter=cutter)).passes
    answer = bench.get(of_former(former, "dxf") + "?build=B901")
    assert answer["Content-Disposition"].endswith('filename="former-12-bench-jig-passes-B901.dxf"')
    found = read_dxf(answer.content)
    ((_, radius, _, right),) = found.arcs["Outline"]
    reach = reach_of_former(jig.as_request(), float(former.radius), math.radians(passes.half_angle_deg))
    assert right[0] == pytest.approx(reach, abs=0.001), "wide enough for it"
    assert found.words["Pass marks"] == [str(one.number) for one in passes.list]
    assert "Passes of B901" in found.words["Words"]


def test_a_former_too_narrow_for_a_build_is_told_of(bench, jig):
    former = make_former(jig, "12", 304.8, width=Decimal(150))
    make_blank(make_build(), width=Decimal(100))
    content = bench.get(of_former(former) + "?build=B901").content
    assert re.search(r"Caution: for B901 the arc is [0-9.]+ mm short at each side\.", words_of(content))


def test_a_former_of_unknown_width_says_for_what_it_serves(bench, jig):
    words = words_of(bench.get(of_former(make_former(jig))).content)
    assert "its width is not known; this one serves blanks up to 70.00 mm wide." in words


def test_lengths_are_in_the_shops_unit(bench, jig):
    Shop.objects.update(lengths="inch")
    make_build(scale=Decimal("647.7"))
    assert "Scale 25.500 in." in words_of(bench.get(of_build("slotting-template")).content)


def test_larger_paper(bench, jig):
    make_build(radius_nut=Decimal(254), radius_heel=Decimal("406.4"))
    sizes = []
    for query in ("", "?paper=larger"):
        pages = reader(bench.get(of_build("heel-former", "pdf") + query).content).pages
        sizes.append((len(pages), round(float(pages[0].mediabox[2]) / 72 * 25.4)))
    assert sizes == [(2, 297), (1, 420)]  # ISO 216: A4 lying, A3 lying


# Names


def test_odd_names_do_no_harm(bench, jig, caplog):
    odd = '%%d\\P"><script>\u202ea</script>/../x; filename=y'
    former = make_former(jig, "x")
    Former.objects.update(name=odd)
    make_build(title='<svg onload="alert(1)">\r\n  0\r\nCIRCLE', customer="x")
    for kind in KINDS:
        for address in (of_former(former, kind), of_build("taper-template", kind), of_build("head-former", kind)):
            answer = bench.get(address)
            assert answer.status_code == 200
            assert re.fullmatch(r'(inline|attachment); filename="[A-Za-z0-9_-]+\.\w+"', answer["Content-Disposition"])
            if kind == "svg":
                assert "<script>" in words_of(answer.content) or "<svg onload" in words_of(answer.content)
                assert b"<script" not in answer.content and b"<svg onload" not in answer.content
            if kind == "dxf":
                assert len(read_dxf(answer.content).circles["Screw holes"]) in (0, 2)
    caplog.clear()


def test_the_title_of_a_build_stands_on_it(bench, jig):
    make_build(title="Lark, six strings")
    assert "B901 Lark, six strings" in seen_by_pdfium(bench.get(of_build("taper-template", "pdf")).content)


# When there is none


@pytest.mark.parametrize("kind", KINDS)
def test_without_a_jig(bench, shop, kind):
    make_build()
    for what in FORMERS:
        answer = bench.get(of_build(what, kind))
        assert answer.status_code == 409
        assert NO_JIG in answer.content.decode() and "Look at B901" in answer.content.decode()
    assert bench.get(of_build("taper-template", kind)).status_code == 200, "it needs none"


def test_without_a_cutter(bench, jig):
    Shop.objects.update(cutter=None)
    make_build()
    former = make_former(jig)
    for address in (of_build("head-former"), of_former(former) + "?build=B901"):
        answer = bench.get(address)
        assert answer.status_code == 409 and NO_CUTTER in answer.content.decode()
    assert bench.get(of_former(former)).status_code == 200


def test_a_build_that_the_jig_cannot_cut(bench, jig):
    make_build(radius_nut=Decimal(80), radius_heel=Decimal(2000))
    answer = bench.get(of_build("head-former"))
    assert answer.status_code == 409
    assert "comes down to nothing" in answer.content.decode()


def test_a_build_that_cannot_be_worked_out(bench, jig):
    make_build()
    Build.objects.update(radius_nut=20, radius_heel=20)
    answer = bench.get(of_build("taper-template"))
    assert answer.status_code == 409 and "cannot span" in answer.content.decode()


def test_strokes_of_a_flat_build_are_not_marked_on_a_round_former(bench, jig):
    former = make_former(jig)
    make_build(radius_nut=None, radius_heel=None)
    answer = bench.get(of_former(former) + "?build=B901")
    assert answer.status_code == 409
    words = answer.content.decode()
    assert "B901 is flat" in words and reverse("shop:former", args=[jig.pk, former.pk]) in words


@pytest.mark.parametrize("address", ["/builds/NONE/taper-template.pdf", "/builds/B901/neck-template.pdf",
    "/builds/B901/taper-template.png", "/formers/999/former.pdf"])  # fmt: skip
def test_no_such_thing(bench, jig, address):
    make_build()
    assert bench.get(address).status_code == 404


def test_marks_of_no_such_build(bench, jig):
    assert bench.get(of_former(make_former(jig)) + "?build=%3Cb%3E").status_code == 404


def test_a_stranger_has_to_sign_in(client, jig, maker):
    make_build()
    assert client.get(of_build("taper-template")).status_code == 302
    assert client.get(of_former(make_former(jig))).status_code == 302


def test_nothing_is_changed_by_a_post(bench, jig):
    make_build()
    assert bench.post(of_build("taper-template")).status_code == 405
    assert bench.post(of_former(make_former(jig))).status_code == 405


def test_printing_that_fails_says_so(bench, jig, monkeypatch):
    def fails(*args, **kwargs):
        raise PrintingFailed("Printing broke off. Try again.")

    monkeypatch.setattr(fullsize, "print_pdf", fails)
    make_build()
    answer = bench.get(of_build("taper-template", "pdf"))
    assert answer.status_code == 503 and "Printing broke off. Try again." in answer.content.decode()


def test_without_pango_machines_still_have_their_files(bench, jig, monkeypatch):
    monkeypatch.setattr(pango, "printing_available", lambda: False)
    monkeypatch.setattr(pango, "missing", lambda: ["Pango"])
    make_build()
    former = make_former(jig)
    assert bench.get(of_build("taper-template", "pdf")).status_code == 503
    assert bench.get(of_build("taper-template", "dxf")).status_code == 200
    for page in (reverse("shop:build", args=["B901"]), reverse("shop:former", args=[jig.pk, former.pk])):
        assert "Printing is off on this machine" in bench.get(page).content.decode()


# Pages that lead there


def test_the_page_of_a_build_leads_to_all_of_them(bench, jig):
    make_build()
    page = bench.get(reverse("shop:build", args=["B901"])).content.decode()
    for what in TEMPLATES + FORMERS:
        for kind in KINDS:
            assert f'href="{of_build(what, kind)}"' in page
        assert f'href="{of_build(what, "pdf")}?paper=larger"' in page


def test_without_a_jig_the_page_says_what_is_missing(bench, shop):
    make_build()
    page = bench.get(reverse("shop:build", args=["B901"])).content.decode()
    assert of_build("taper-template", "pdf") in page and of_build("head-former", "pdf") not in page
    assert "once a radius jig with its cutter is set up" in page


def test_the_page_of_a_former_leads_to_its_drawing(bench, jig):
    former = make_former(jig)
    make_build()
    make_build("B902", radius_nut=None, radius_heel=None)
    page = bench.get(reverse("shop:former", args=[jig.pk, former.pk])).content.decode()
    assert f'action="{of_former(former, "pdf")}"' in page
    for kind in ("svg", "dxf"):
        assert f'formaction="{of_former(former, kind)}"' in page
    assert '<option value="B901">' in page and '<option value="B902">' not in page
    assert bench.get(of_former(former) + "?build=").status_code == 200, "none chosen"
