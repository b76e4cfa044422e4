"""Drawings at full size on paper: measured in the PDF's vectors, and again in pictures by another renderer."""

import io
import math

import pdfplumber
import pytest

from boards.fullsize import write_pdf
from geometry.shapes import shape_former
from geometry.units import LengthStyle
from shop.fullsize.description import FullSize
from tests.print.drawn import COMPOUND, FANNED, FLAT, arcs_on, asked, former, lines_on, pair_shape, template
from tests.print.paper import MM, pictured, reader, seen_by_pdfium, stroke_widths

# ISO 216: A4, A3. ANSI/ASME Y14.1: A (8.5 x 11 in), B (11 x 17 in).
SIZES = {"A4": (210, 297), "A3": (297, 420), "letter": (215.9, 279.4), "B": (279.4, 431.8)}
NEAR = 0.05
DPI = 300

pytestmark = pytest.mark.django_db  # templates ask for the shop's settings


def size_of(page) -> tuple[float, float]:
    left, bottom, right, top = (float(side) for side in page.mediabox)
    assert (left, bottom) == (0, 0) and "/UserUnit" not in page and "/Rotate" not in page
    return right / MM, top / MM


def texts_of(pdf: bytes) -> list[str]:
    """The words of each page."""
    return [" ".join(seen_by_pdfium(pdf, [page]).split()) for page in range(len(reader(pdf).pages))]


def bars_of(lines) -> tuple[tuple, tuple]:
    """The level and the upright check bar of a page: the only lines of about 100 mm that begin near its corner."""
    bars = [line for line in lines if 99 < math.dist(line[0], line[1]) < 101 and min(line[0][0], line[1][0]) < 15]
    (level,) = [bar for bar in bars if abs(bar[0][1] - bar[1][1]) < 0.01 and bar[0][1] < 20]
    (upright,) = [bar for bar in bars if abs(bar[0][0] - bar[1][0]) < 0.01 and min(bar[0][1], bar[1][1]) < 20]
    return level, upright


def crosses_of(pdf: bytes) -> list[list[tuple[float, float]]]:
    """Middles of the register crosses of each page: where two lines of 8 mm cross in the middle of each other."""
    found = []
    for lines in lines_on(pdf):
        short = [line for line in lines if abs(math.dist(line[0], line[1]) - 8) < 0.02]
        middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2, abs(a[1] - b[1]) < 0.01) for a, b, _ in short]
        level, upright = ([m[:2] for m in middles if m[2] is way] for way in (True, False))
        found.append([m for m in level if any(math.dist(m, other) < 0.01 for other in upright)])
    return found


BIG = shape_former(700, 420, 190)  # 380 wide and 420 high: more than one sheet both ways


def drawings() -> dict[str, FullSize]:
    return {
        "former": former(),
        "long former": former(end=1),
        "big former": former(shape=BIG, marked=False),
        "taper": template("taper"),
        "slotting": template("slotting", FANNED),
        "gauge": template("gauge"),
    }


@pytest.fixture(scope="module", params=["A4", "letter"])
def printed(request, django_db_setup, django_db_blocker) -> tuple[str, dict[str, bytes]]:
    with django_db_blocker.unblock():
        return request.param, {name: write_pdf(drawing, request.param) for name, drawing in drawings().items()}


def test_it_works(printed):
    paper, pdfs = printed
    pdf = pdfs["former"]
    (page,) = reader(pdf).pages
    assert size_of(page) == pytest.approx(SIZES[paper][::-1], abs=0.01), "it lies"
    (text,) = texts_of(pdf)
    for words in (
        "Former at the head, for B901",
        "Bench jig",
        "print at 100 %",
        "This edge on the bed",
        "Sheet 1 of 1",
    ):
        assert words in text


def test_the_dialogue_is_told_not_to_scale(printed):
    for pdf in printed[1].values():
        told = reader(pdf).trailer["/Root"]["/ViewerPreferences"]
        # ISO 32000-1, table 150.
        assert told["/PrintScaling"] == "/None" and told["/Duplex"] == "/Simplex"


def test_every_page_carries_both_bars_at_full_size(printed):
    paper, pdfs = printed
    for pdf in pdfs.values():
        for page, lines, words in zip(reader(pdf).pages, lines_on(pdf), texts_of(pdf), strict=True):
            assert sorted(size_of(page)) == pytest.approx(SIZES[paper], abs=0.01)
            for bar in bars_of(lines):
                assert math.dist(bar[0], bar[1]) == pytest.approx(100, abs=NEAR)
            assert "print at 100 %" in words


def test_bars_measure_right_in_a_picture(printed):
    for name in ("former", "taper"):
        pdf = printed[1][name]
        height = size_of(reader(pdf).pages[0])[1]
        image = pictured(pdf, dpi=DPI)
        level, upright = bars_of(lines_on(pdf)[0])
        x, y = min(level[0][0], level[1][0]), level[0][1]
        across = _marks(image, (x - 1, x + 101), height - y + 1.5, False)
        up = _marks(image, (height - y - 101, height - y + 1), x + 1.5, True)
        for marks in (across, up):
            assert len(marks) == 2
            assert marks[1] - marks[0] == pytest.approx(100, abs=0.09), "half a pixel for each mark"


def _marks(image, span: tuple[float, float], beside: float, upright: bool) -> list[float]:
    """Middles in mm of the dark runs along a row beside a bar, or along a column: its end marks."""
    scale = DPI / 25.4
    first, last, row = round(span[0] * scale), round(span[1] * scale), round(beside * scale)
    dark = [image.getpixel((row, k) if upright else (k, row)) < 128 for k in range(first, last)]
    runs, start = [], None
    for k, is_dark in enumerate([*dark, False]):
        if is_dark and start is None:
            start = k
        elif not is_dark and start is not None:
            runs.append((first + (start + k) / 2) / scale)
            start = None
    return runs


def arc_of(pdf: bytes, page: int = 0) -> list[tuple[float, float]]:
    """The longest curve of a page, from left to right."""
    return sorted(max(arcs_on(pdf)[page], key=lambda points: max(p[0] for p in points) - min(p[0] for p in points)))


def test_three_chords_of_the_arc(printed):
    _, result = asked()
    for name, shape in (("former", pair_shape(result)), ("long former", pair_shape(result, 1)), ("big former", BIG)):
        points = arc_of(printed[1][name])
        apex = max(points, key=lambda point: point[1])
        assert points[-1][0] - points[0][0] == pytest.approx(2 * shape.half_width, abs=NEAR)
        for chord in (60.0, 120.0, 2 * shape.half_width - 0.5):
            # Machinery's Handbook, "Segments of a Circle": h = r - sqrt(4r² - c²)/2.
            height = shape.radius - math.sqrt(4 * shape.radius**2 - chord**2) / 2
            middle = (points[0][0] + points[-1][0]) / 2
            for side in (-1, 1):
                assert apex[1] - _height_at(points, middle + side * chord / 2) == pytest.approx(height, abs=NEAR)


def _height_at(points, x: float) -> float:
    after = next(k for k, point in enumerate(points) if point[0] >= x)
    (x0, y0), (x1, y1) = points[after - 1], points[after]
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)


def test_the_seat_lies_below_the_apex_by_its_height(printed):
    _, result = asked()
    shape = pair_shape(result)
    pdf = printed[1]["former"]
    top = max(y for _, y in arc_of(pdf))
    seat = [line for line in lines_on(pdf)[0] if abs(math.dist(line[0], line[1]) - 2 * shape.half_width) < NEAR]
    assert min(abs(top - line[0][1] - shape.apex) for line in seat) < NEAR


def test_frets_on_paper_stand_where_geometry_has_them():
    _, result = asked()
    pdf = write_pdf(template("slotting"), "A4", larger=True)
    width = result.blank_needed.width
    upright = sorted(
        line[0][0]
        for line in lines_on(pdf)[0]
        if abs(math.dist(line[0], line[1]) - width) < 0.01 and abs(line[0][0] - line[1][0]) < 0.01
    )
    frets = upright[1:-1]  # without the template's own ends
    assert len(frets) == COMPOUND.frets + 1
    for fret, x in zip(result.board.frets, frets, strict=True):
        assert x - frets[0] == pytest.approx(fret.from_nut, abs=NEAR)


# Sheets that are joined


def shifts_of(pdf: bytes) -> list[tuple[float, float]]:
    """How far each page has to be moved to lie on the first, found from register crosses alone."""
    crosses = crosses_of(pdf)
    columns = _columns(pdf)
    shifts = [(0.0, 0.0)]
    for page in range(1, len(crosses)):
        beside = page % columns > 0
        before = page - 1 if beside else page - columns
        ours, theirs = crosses[page], crosses[before]
        if beside:  # its crosses furthest to the left lie on the other's furthest to the right
            ours = sorted(p for p in ours if p[0] < min(x for x, _ in ours) + 1)
            theirs = sorted(p for p in theirs if p[0] > max(x for x, _ in theirs) - 1)
        else:
            ours = sorted(p for p in ours if p[1] > max(y for _, y in ours) - 1)
            theirs = sorted(p for p in theirs if p[1] < min(y for _, y in theirs) + 1)
        by = [(b[0] - a[0], b[1] - a[1]) for a, b in zip(ours, theirs, strict=True)]
        assert len(by) >= 2
        for one in by:  # all of them at once, so the sheets are neither turned nor stretched
            assert one == pytest.approx(by[0], abs=0.01)
        shifts.append((shifts[before][0] + by[0][0], shifts[before][1] + by[0][1]))
    return shifts


def _columns(pdf: bytes) -> int:
    """How many sheets stand side by side: the first that is told to be cut along its upper line begins a row."""
    texts = texts_of(pdf)
    return next((number for number, words in enumerate(texts) if "upper dashed line" in words), len(texts))


JOINED = ("taper", "slotting", "big former")


def test_drawings_longer_than_the_paper_come_in_sheets(printed):
    for name in JOINED:
        texts = texts_of(printed[1][name])
        assert len(texts) >= 2
        for number, words in enumerate(texts, 1):
            assert f"Sheet {number} of {len(texts)}" in words
    assert 1 < _columns(printed[1]["big former"]) < len(reader(printed[1]["big former"]).pages), "rows as well"


def test_sheets_lie_on_one_another_at_their_crosses(printed):
    """Moved by what the crosses say, each page draws the very same lines as the first."""
    for name in JOINED:
        pdf = printed[1][name]
        pages, shifts = lines_on(pdf), shifts_of(pdf)
        first = sorted(_thick(pages[0]))
        assert len(first) >= 3
        for lines, (dx, dy) in zip(pages[1:], shifts[1:], strict=True):
            assert abs(dx) + abs(dy) > 100, "another piece of it"
            moved = sorted(((a[0] + dx, a[1] + dy), (b[0] + dx, b[1] + dy)) for a, b in _thick(lines))
            for one, other in zip(first, moved, strict=True):
                assert math.dist(one[0], other[0]) < 0.02 and math.dist(one[1], other[1]) < 0.02


def _thick(lines):
    """Outlines and frets: those of the thicker pen."""
    return [(a, b) for a, b, pen in lines if pen / MM > 0.3]


def test_all_of_the_drawing_is_on_the_sheets(printed):
    """Each point of its lines is inked on one of the sheets, where the crosses say that it lies; seen in pictures."""
    for name in JOINED:
        pdf = printed[1][name]
        pages, shifts = lines_on(pdf), shifts_of(pdf)
        heights = [size_of(page)[1] for page in reader(pdf).pages]
        images = [pictured(pdf, page, dpi=100) for page in range(len(pages))]
        points = [point for line in _thick(pages[0]) for point in _every(line, 3.0)]
        if name == "big former":
            points += arc_of(pdf)[::10]
        assert len(points) > 100
        for point in points:
            seen = (
                _inked(image, point[0] - dx, height - point[1] + dy)
                for image, height, (dx, dy) in zip(images, heights, shifts, strict=True)
            )
            assert any(seen), point


def _every(line, step: float):
    (x0, y0), (x1, y1) = line
    count = max(1, round(math.dist(*line) / step))
    return [(x0 + (x1 - x0) * k / count, y0 + (y1 - y0) * k / count) for k in range(count + 1)]


def _inked(image, x: float, y: float, dpi: int = 100) -> bool:
    at, below = round(x / 25.4 * dpi), round(y / 25.4 * dpi)
    if not (2 <= at < image.width - 2 and 2 <= below < image.height - 2):
        return False
    return min(image.crop((at - 2, below - 2, at + 3, below + 3)).tobytes()) < 160


def test_what_lies_on_another_sheet_is_cut_off(printed):
    """Nothing of the drawing runs into the margins, where the bars and words are."""
    for name in JOINED:
        for page in range(len(reader(printed[1][name]).pages)):
            image = pictured(printed[1][name], page, dpi=100)
            for box in ((0, 0, 20, image.height), (image.width - 24, 0, image.width, image.height)):
                assert min(image.crop(box).tobytes()) > 200
            assert min(image.crop((0, image.height - 28, image.width, image.height)).tobytes()) > 200


# Which paper


@pytest.mark.parametrize(("paper", "larger"), [("A4", "A3"), ("letter", "B")])
def test_the_larger_paper_is_taken_where_one_sheet_is_too_small(paper, larger):
    one = reader(write_pdf(former(end=1), paper, larger=True)).pages
    assert len(one) == 1 and size_of(one[0]) == pytest.approx(SIZES[larger][::-1], abs=0.01)
    several = reader(write_pdf(template("slotting", FANNED), paper, larger=True)).pages
    assert len(several) == 2 and size_of(several[0]) == pytest.approx(SIZES[larger][::-1], abs=0.01)
    small = reader(write_pdf(former(), paper, larger=True)).pages
    assert len(small) == 1 and size_of(small[0]) == pytest.approx(SIZES[paper][::-1], abs=0.01)


def test_a_narrow_and_a_flat_former_have_a_sheet_each():
    for drawing in (former(shape=shape_former(30, 60, 40), marked=False, holes=None),
                    former(FLAT)):  # fmt: skip
        assert len(reader(write_pdf(drawing, "A4")).pages) == 1


# As paper has to be


@pytest.mark.parametrize("style", LengthStyle)
def test_lines_and_type_are_large_enough_and_lie_on_the_page(style):
    for drawing in (former(style=style), template("gauge", style=style), template("taper", style=style)):
        pdf = write_pdf(drawing, "letter")
        assert min(stroke_widths(pdf)) >= 0.2 - 1e-3  # mm
        with pdfplumber.open(io.BytesIO(pdf)) as document:
            for page in document.pages:
                for char in page.chars:
                    a, b, *_ = char["matrix"]
                    size = char["width"] if abs(b) > abs(a) else char["height"]  # turned, it is as wide as it is large
                    assert size >= 9.5 - 0.01 or not char["text"].strip(), (char["text"], size)
                    if len(document.pages) == 1:
                        assert char["x0"] >= 5 * MM and char["x1"] <= page.width - 5 * MM, char["text"]
                        assert char["top"] >= 5 * MM and char["bottom"] <= page.height - 5 * MM, char["text"]


def test_what_people_typed_does_no_harm(caplog):
    evil = '<script>alert(1)</script><img src="file:///etc/passwd"> \u202e 🎸 {{ shop }}'
    for drawing in (former(words=(evil, "W" * 60, evil)), template("gauge", what=evil + "W" * 80)):
        pdf = write_pdf(drawing, "A4")
        assert len(reader(pdf).pages) <= 2
        raw = b"".join(repr(reader(pdf).get_object(k)).encode() for k in range(1, len(reader(pdf).xref[0]) + 1))
        for danger in (b"/JavaScript", b"/JS", b"/Launch", b"/URI", b"/EmbeddedFile", b"/OpenAction"):
            assert danger not in raw
    said = {record.getMessage() for record in caplog.records if record.name == "boards.printing"}
    assert all(".notdef glyph" in words for words in said), said  # a system without a font for guitars
    caplog.clear()


def test_the_same_drawing_twice_gives_the_same_bytes():
    assert write_pdf(template("taper"), "A4") == write_pdf(template("taper"), "A4")
