"""Labels: where they lie on their sheets, what they say, and that a phone finds its way by them."""

import io
from decimal import Decimal

import pdfplumber
import pytest
import zxingcpp

from boards.label_layout import Layout, lay_out
from boards.label_pages import calibration_sheet, label_sheets, label_words
from boards.models import Blank
from boards.printing import print_pdf
from boards.qr import encode
from geometry.units import LengthStyle
from shop.models import LabelSheet, Refused, Shop
from tests.factories import make_blanks, make_species
from tests.print.drawn import lines_on
from tests.print.paper import MM, pictured, reader, seen_by_pdfium

pytestmark = pytest.mark.django_db
HOME = "http://192.168.1.20:8000"
NEAR = 0.01  # mm


def printed(blanks: list[Blank], sheet: LabelSheet, first: int = 1, style: LengthStyle = LengthStyle.MM) -> bytes:
    labelled = [(blank, f"{HOME}/blanks/{blank.number}/") for blank in blanks]
    return print_pdf(label_sheets(labelled, sheet, style, first=first), "Labels", true_size=True)


def sheets() -> list[LabelSheet]:
    return list(LabelSheet.objects.all())


def codes_on(pdf: bytes, page: int = 0, dpi: int = 300) -> list[tuple[str, float, float]]:
    """What the codes of a page say, each with the middle of the code in mm from the left upper corner."""
    found = []
    for code in zxingcpp.read_barcodes(pictured(pdf, page, dpi)):
        corners = (
            code.position.top_left,
            code.position.top_right,
            code.position.bottom_left,
            code.position.bottom_right,
        )
        x, y = (sum(getattr(corner, axis) for corner in corners) / 4 / dpi * 25.4 for axis in "xy")
        found.append((code.text, x, y))
    return found


def places_of_codes(blanks: list[Blank], sheet: LabelSheet, first: int = 1) -> list[tuple[str, float, float]]:
    """Where the middle of each code belongs, by the sheet's geometry and the layout of the label."""
    wanted = []
    for place, blank in enumerate(blanks, first):
        x, y = map(float, sheet.corner((place - 1) % sheet.count + 1))
        layout, modules = layout_of(blank, sheet)
        half = layout.module * modules / 2
        wanted.append((f"{HOME}/blanks/{blank.number}/", x + layout.code_x + half, y + layout.code_y + half))
    return wanted


def layout_of(blank: Blank, sheet: LabelSheet) -> tuple[Layout, int]:
    modules = encode(f"{HOME}/blanks/{blank.number}/").modules
    words = label_words(blank, LengthStyle.MM)
    return lay_out(words, float(sheet.label_width), float(sheet.label_height), modules), modules


def test_it_works() -> None:
    blanks, sheet = make_blanks(3), LabelSheet.objects.get(columns=2, rows=7)
    pdf = printed(blanks, sheet)
    (page,) = reader(pdf).pages
    assert float(page.mediabox.width) / MM == pytest.approx(210, abs=NEAR)
    assert float(page.mediabox.height) / MM == pytest.approx(297, abs=NEAR)
    assert "/UserUnit" not in page and "/Rotate" not in page
    told = reader(pdf).trailer["/Root"]["/ViewerPreferences"]
    assert told["/PrintScaling"] == "/None"  # ISO 32000-1, table 150
    text = " ".join(seen_by_pdfium(pdf).split())
    for blank in blanks:
        assert blank.number in text
    for words in ("Pear, steamed", "530.0 × 70.00 × 8.50 mm", "Came in"):
        assert text.count(words) == 3


@pytest.mark.parametrize("style", list(LengthStyle))
def test_every_code_of_every_sheet_leads_to_its_blank_and_lies_where_it_should(style: LengthStyle) -> None:
    blanks = make_blanks(11)
    for sheet in sheets():
        first = 2 if sheet.count > 1 else 1
        pdf = printed(blanks, sheet, first, style)
        on_first = blanks[: sheet.count - first + 1]
        found = sorted(codes_on(pdf))
        assert [text for text, _, _ in found] == [f"{HOME}/blanks/{blank.number}/" for blank in on_first], sheet
        if style is LengthStyle.MM:
            for (_, x, y), (_, x0, y0) in zip(found, sorted(places_of_codes(on_first, sheet, first)), strict=True):
                # The reader gives corners to whole pixels: 0.085 mm at 300 dpi, and two of them.
                assert (x, y) == pytest.approx((x0, y0), abs=0.25), sheet


def test_what_is_drawn_lies_to_a_hundredth_where_the_geometry_says() -> None:
    sheet = LabelSheet.objects.get(columns=3, rows=7)
    blanks = make_blanks(sheet.count)
    pdf = printed(blanks, sheet)
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        page = document.pages[0]
        shapes = [*page.curves, *page.rects, *page.lines]
        boxes = [(s["x0"] / MM, s["top"] / MM, s["x1"] / MM, s["bottom"] / MM) for s in shapes]
    layout, modules = layout_of(blanks[0], sheet)
    quiet, ink = 4 * layout.module, (modules - 8) * layout.module
    for place in range(1, sheet.count + 1):
        x, y = map(float, sheet.corner(place))
        left, top = x + layout.code_x + quiet, y + layout.code_y + quiet
        inside = [
            box for box in boxes
            if left - 0.1 < box[0] and box[2] < left + ink + 0.1 and top - 0.1 < box[1] and box[3] < top + ink + 0.1
        ]  # fmt: skip
        assert inside, place
        assert min(box[0] for box in inside) == pytest.approx(left, abs=NEAR)
        assert min(box[1] for box in inside) == pytest.approx(top, abs=NEAR)
        assert max(box[2] for box in inside) == pytest.approx(left + ink, abs=NEAR)
        assert max(box[3] for box in inside) == pytest.approx(top + ink, abs=NEAR)


def test_a_shift_moves_all_by_as_much() -> None:
    sheet = LabelSheet.objects.get(columns=2, rows=7)
    (blank,) = make_blanks(1)

    def first_of(pdf: bytes) -> tuple[float, float]:
        with pdfplumber.open(io.BytesIO(pdf)) as document:
            words = document.pages[0].extract_words()
        return words[0]["x0"] / MM, words[0]["top"] / MM

    before = first_of(printed([blank], sheet))
    sheet.shift_right, sheet.shift_down = Decimal(1), Decimal("-0.5")
    after = first_of(printed([blank], sheet))
    assert after == pytest.approx((before[0] + 1, before[1] - 0.5), abs=NEAR)


def test_frames_stand_where_the_labels_do_and_both_bars_measure_right() -> None:
    for sheet in sheets():
        pdf = print_pdf(calibration_sheet(sheet, LengthStyle.MM), "Frames", true_size=True)
        assert len(reader(pdf).pages) == 1
        with pdfplumber.open(io.BytesIO(pdf)) as document:
            rects = [(r["x0"] / MM, r["top"] / MM, r["width"] / MM, r["height"] / MM) for r in document.pages[0].rects]
        size = float(sheet.label_width), float(sheet.label_height)
        frames = sorted(r[:2] for r in rects if r[2:] == pytest.approx(size, abs=NEAR))
        wanted = sorted(tuple(map(float, sheet.corner(place))) for place in range(1, sheet.count + 1))
        assert len(frames) == len(wanted), sheet
        for frame, corner in zip(frames, wanted, strict=True):
            assert frame == pytest.approx(corner, abs=NEAR), sheet
        lengths = [((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5 for a, b, _ in lines_on(pdf)[0]]
        bar = 100 if sheet.paper_width > 150 else 20
        assert sum(abs(length - bar) < NEAR for length in lengths) == 2, sheet


def test_a_used_sheet_goes_back_in() -> None:
    sheet = LabelSheet.objects.get(columns=3, rows=8)
    blanks = make_blanks(25)
    pdf = printed(blanks, sheet, first=20)
    assert len(reader(pdf).pages) == 2
    assert len(codes_on(pdf)) == 5 and len(codes_on(pdf, 1)) == 20
    assert min(y for _, _, y in codes_on(pdf)) > float(sheet.corner(19)[1])


def test_three_hundred_labels_in_one_document() -> None:
    blanks = make_blanks(200) + make_blanks(100)
    few, single = LabelSheet.objects.get(columns=3, rows=7), LabelSheet.objects.get(label_width=57)
    for labelled, sheet, pages in ((blanks, few, 15), (blanks[:60], single, 60)):
        pdf = printed(labelled, sheet)
        assert len(reader(pdf).pages) == pages
        text = seen_by_pdfium(pdf)
        assert all(blank.number in text for blank in labelled)


def test_strange_names_stay_on_their_label(caplog: pytest.LogCaptureFixture) -> None:
    sheet = LabelSheet.objects.get(columns=3, rows=8)
    wood = make_species("🎸 <b>ébène</b> & \u202e كمان 黒檀 " + "W" * 20)
    pdf = printed(make_blanks(2, species=wood), sheet)
    caplog.clear()  # a machine may have no font for some of these
    assert len(codes_on(pdf)) == 2
    picture = pictured(pdf, dpi=150)
    x0, x1 = (int(edge / 25.4 * 150) for edge in (140.5, 209.5))
    assert picture.crop((x0, 0, x1, int(37 / 25.4 * 150))).getextrema()[0] == 255, "the third label stays empty"


def test_a_label_that_takes_no_number_is_refused_in_words(shop: Shop) -> None:
    sheet = LabelSheet.objects.get(label_width=57)
    sheet.label_width = sheet.paper_width = 12
    with pytest.raises(Refused, match=r"F0001 and its code do not fit on labels of 12\.00 × 32\.00 mm"):
        printed(make_blanks(1), sheet)
