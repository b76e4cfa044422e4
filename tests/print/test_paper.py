"""The sheet as a thing of paper: its size, its type, its lines, its code."""

import io
from decimal import Decimal

import pdfplumber
import pytest
import zxingcpp
from django.test import Client
from django.urls import reverse

from boards.figures import worked
from boards.models import Blank
from boards.printing import print_pdf
from boards.qr import draw_qr
from boards.sheets import Occasion, traveller_sheets
from tests.factories import make_blank, make_build, make_species
from tests.print.paper import AT, MM, pictured, reader, seen_by_pdfium, stroke_widths, traveller_of

SIZES = {
    "A4": (595.2756, 841.8898),  # ISO 216: 210 × 297 mm; ISO 32000-1, 8.3.2.3: units of 1/72 in
    "letter": (612.0, 792.0),  # ANSI/ASME Y14.1, size A: 8.5 × 11 in
}
LEAST_TYPE = 9.5  # pt, the house's own rule, as is the next
LEAST_LINE = 0.2  # mm


@pytest.mark.parametrize("paper", SIZES)
def test_size_of_the_paper(shop, paper):
    shop.paper = paper
    for page in reader(traveller_of(make_blank(make_build()), shop)).pages:
        assert [float(page.mediabox[k]) for k in (0, 1)] == [0, 0]
        assert float(page.mediabox[2]) == pytest.approx(SIZES[paper][0], abs=0.01)
        assert float(page.mediabox[3]) == pytest.approx(SIZES[paper][1], abs=0.01)
        assert "/UserUnit" not in page and "/Rotate" not in page


def test_fonts_are_the_shops_own_and_embedded(shop):
    fonts = set()
    for page in reader(traveller_of(make_blank(make_build()), shop)).pages:
        for font in page["/Resources"]["/Font"].values():
            inner = font.get_object()["/DescendantFonts"][0].get_object()
            descriptor = inner["/FontDescriptor"]
            assert {"/FontFile2", "/FontFile3"} & set(descriptor), inner["/BaseFont"]
            fonts.add(str(inner["/BaseFont"]).split("+")[-1])
    assert fonts and all("Source" in font for font in fonts), fonts


@pytest.mark.parametrize(("paper", "lengths"), [("A4", "mm"), ("letter", "inch"), ("letter", "fraction")])
def test_type_and_lines_are_large_enough_and_all_lies_on_the_page(shop, paper, lengths):
    shop.paper, shop.lengths = paper, lengths
    pdf = traveller_of(make_blank(make_build(customer="A. Wren"), done=1), shop)
    _is_fit_to_read(pdf)


def _is_fit_to_read(pdf: bytes) -> None:
    widths = list(stroke_widths(pdf))
    assert len(widths) > 50 and min(widths) >= LEAST_LINE - 1e-3
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        for page in document.pages:
            for char in page.chars:
                a, b, *_ = char["matrix"]
                size = char["width"] if abs(b) > abs(a) else char["height"]  # turned, it is as wide as it is large
                assert size >= LEAST_TYPE - 0.01 or not char["text"].strip(), (char["text"], size)
                assert char["x0"] >= 12 * MM and char["x1"] <= page.width - 11 * MM, char["text"]
                assert char["top"] >= 8 * MM and char["bottom"] <= page.height - 3 * MM, char["text"]
            for rect in page.rects:
                thin = min(rect["width"], rect["height"]) / MM
                assert thin == 0 or thin >= LEAST_LINE - 1e-3, rect


def test_boxes_for_readings_are_large_enough(shop):
    with pdfplumber.open(io.BytesIO(traveller_of(make_blank(make_build()), shop))) as document:
        page = document.pages[0]
        boxes = [r for r in page.rects + page.curves if r["width"] >= 12 * MM and 8 * MM <= r["height"] <= 12 * MM]
    assert len(boxes) >= 11 + 5  # eleven readings on the way by the book, five initials


@pytest.mark.parametrize(
    "address",
    ["http://192.168.1.20:8000", "http://b", "https://boards.a-shop-with-a-rather-long-name.example:8443/camberbook"],
)
def test_the_code_leads_to_the_blank_and_scans(shop, address):
    blank = make_blank(make_build())
    image = pictured(traveller_of(blank, shop, address), dpi=300)
    (code,) = zxingcpp.read_barcodes(image)
    assert code.text == address + reverse("boards:scan", args=[blank.number])
    spot = code.position
    left, right = spot.top_left.x, spot.top_right.x
    top, bottom = spot.top_left.y, spot.bottom_left.y
    dark = image.point(lambda grey: 255 if grey < 128 else 0)
    # Its own measure: the upper edge of a finder pattern is seven modules of dark (ISO/IEC 18004, 6.3.3).
    row = [dark.getpixel((x, top + 3)) for x in range(left - 2, right)]
    start = row.index(255)
    module = row[start:].index(0) / 7
    assert module / 300 * 25.4 >= 0.5, "large enough for a phone"
    quiet = 4 * module - 1.5  # four modules on all sides (ISO/IEC 18004, 9.1); edges are found to a pixel or so
    around = (left - quiet, top - quiet, right + quiet, bottom + quiet)
    ring = dark.crop([round(side) for side in around])
    inked = ring.getbbox()
    assert inked[0] >= quiet - 2 and inked[1] >= quiet - 2
    assert ring.width - inked[2] >= quiet - 2 and ring.height - inked[3] >= quiet - 2
    assert left > image.width / 2 and bottom < image.height / 4, "at the top right"
    assert top > 15 / 25.4 * 300, "below the clip"


def test_a_long_address_keeps_its_modules_large():
    svg = draw_qr("http://" + "a" * 200 + "/", 32)
    modules = 57 + 8  # 208 bytes at level M take version 10 (ISO/IEC 18004, from memory): 21 + 4 × 9 modules
    assert float(svg.split('width="')[1].split("mm")[0]) == pytest.approx(0.5 * modules, abs=0.01)


def test_the_code_follows_the_shops_address(bench, shop):
    blank = make_blank(make_build())
    for address in ("", "http://10.1.2.3:8000/"):
        shop.web_address = address
        shop.save()
        pdf = bench.get(reverse("boards:traveller", args=[blank.number])).content
        (code,) = zxingcpp.read_barcodes(pictured(pdf))
        assert code.text == (address or "http://testserver/").rstrip("/") + f"/scan/{blank.number}/"


def test_the_code_on_the_paper_opens_the_blank_at_its_stage_ready_to_finish(bench, maker):
    """From the picture of the sheet to the form, at each stage; signed out, by way of the sign-in page."""
    build = make_build()
    for done, stage in enumerate(build.route.stages):
        blank = make_blank(build, done=done)
        pdf = bench.get(reverse("boards:traveller", args=[blank.number])).content
        (code,) = zxingcpp.read_barcodes(pictured(pdf))
        address = code.text.removeprefix("http://testserver")
        page = bench.get(address, follow=True)
        assert page.redirect_chain[-1][0] == f"/benches/{stage}/?board={blank.number}"
        assert f'action="/blanks/{blank.number}/finish/{stage}/"' in page.text
        assert Client().get(address)["Location"] == f"/sign-in/?next={address}"


def test_what_people_typed_does_no_harm(shop, caplog):
    evil = '<script>alert(1)</script><img src="file:///etc/passwd"> \u202e שלום مرحبا 🎸 {{ shop }} '
    build = make_build(title="M" * 80, customer="W" * 80, remarks=evil * 40)
    wood = make_species("N" * 60, botanical="b" * 80, trade_note=evil * 6, dust_note="d" * 400)
    blank = make_blank(build, species=wood, supplier="S" * 80, lot="L" * 40, place="P" * 40)
    blank = Blank.objects.with_spec().get(pk=blank.pk)
    blank.remarks, blank.number, shop.name = "W" * 10_000, "ABCDEFGH-26-000000000001", "Q" * 60
    board = worked(blank, shop)
    pdf = print_pdf(
        traveller_sheets([board], [], Occasion(shop, blank.changed_by, AT, "http://" + "a-long-name." * 8 + "example")),
        "Odd",
    )
    said = {record.getMessage() for record in caplog.records if record.name == "boards.printing"}
    assert all(".notdef glyph" in words for words in said), said  # a system without a font for guitars
    caplog.clear()
    text = " ".join(seen_by_pdfium(pdf).split())
    assert "<script>alert(1)</script>" in text and "shop }}" in text
    assert "The national authority decides." in text, "and not written backwards"
    assert len(reader(pdf).pages) <= 5
    raw = b"".join(repr(reader(pdf).get_object(k)).encode() for k in range(1, len(reader(pdf).xref[0]) + 1))
    for danger in (b"/JavaScript", b"/JS", b"/Launch", b"/URI", b"/EmbeddedFile", b"/OpenAction"):
        assert danger not in raw
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        for page in document.pages:
            for char in page.chars:
                assert char["x0"] >= 0 and char["x1"] <= page.width - 10 * MM, char["text"]
                assert char["top"] >= 0 and char["bottom"] <= page.height - 2 * MM, char["text"]


def test_a_bass_and_a_fan_are_fit_to_read_as_well(shop):
    bass = make_build("B1", scale=Decimal(863), frets=24, heel_width=Decimal(64))
    fan = make_build("B2", bass_scale=Decimal(686), scale=Decimal(648), square_fret=7, frets=24)
    for build, length in ((bass, 720), (fan, 600)):
        _is_fit_to_read(traveller_of(make_blank(build, length=Decimal(length)), shop))
