"""What a sheet is on paper, read back from the PDF by other libraries than the one that wrote it."""

from __future__ import annotations

import functools
import io
import math
from collections.abc import Iterator
from datetime import UTC, datetime

import pdfplumber
import pypdf
import pypdfium2
from PIL import Image
from pypdf.generic import ContentStream

from boards.figures import worked
from boards.models import Blank
from boards.printing import Sheet, print_pdf
from boards.sheets import Occasion, traveller_sheets
from shop.models import Shop

MM = 72 / 25.4  # units of a PDF in a millimetre: ISO 32000-1, 8.3.2.3, 1/72 in; 1 in = 25.4 mm (agreement of 1959)
AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)


def traveller_of(blank: Blank, shop: Shop, address: str = "http://192.168.1.20:8000", *, afresh: bool = False) -> bytes:
    """Print one traveller, always at the same hour. Tests that want the same sheet share one print, unless afresh."""
    board = worked(Blank.objects.with_spec().get(pk=blank.pk), shop)
    sheets = traveller_sheets([board], [], Occasion(shop, blank.changed_by, AT, address))
    title = f"Traveller of {blank.number}"
    return print_pdf(sheets, title) if afresh else _printed(tuple(sheets), title)


@functools.cache
def _printed(sheets: tuple[Sheet, ...], title: str) -> bytes:
    return print_pdf(sheets, title)


def reader(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


def text_of(pdf: bytes) -> str:
    """All its text, spaces and lines alike."""
    return " ".join(" ".join(page.extract_text() for page in reader(pdf).pages).split())


def rows_of(pdf: bytes) -> list[list[str]]:
    """The words of all pages, those on one baseline together, from left to right."""
    rows = []
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        for page in document.pages:
            lines: dict[int, list[dict]] = {}
            for word in page.extract_words(use_text_flow=False, y_tolerance=1):
                key = next((k for k in lines if abs(k - word["bottom"]) < 3), None)
                lines.setdefault(word["bottom"] if key is None else key, []).append(word)
            rows += [[w["text"] for w in sorted(line, key=lambda w: w["x0"])] for _, line in sorted(lines.items())]
    return rows


def pictured(pdf: bytes, page: int = 0, dpi: int = 300) -> Image.Image:
    """A page as a printer would set it, in grey."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return document[page].render(scale=dpi / 72, grayscale=True).to_pil()
    finally:
        document.close()


def seen_by_pdfium(pdf: bytes, pages: list[int] | None = None) -> str:
    """Its text, or that of some pages, as a browser's viewer reads it.

    pypdf loses the letters of a font that lacks some of them, and the spaces of small type in a large unit.
    """
    document = pypdfium2.PdfDocument(pdf)
    try:
        wanted = range(len(document)) if pages is None else pages
        return "\n".join(document[page].get_textpage().get_text_range() for page in wanted)
    finally:
        document.close()


def stroke_widths(pdf: bytes) -> Iterator[float]:
    """The width in mm of every line that is stroked: the pen's, times the scale of the drawing that it is in."""
    for page in reader(pdf).pages:
        yield from _strokes(page, page.get_contents(), page["/Resources"], 1.0)


def _strokes(page, contents, resources, scale: float) -> Iterator[float]:
    pen, kept = 1.0, []
    for operands, operator in ContentStream(contents, page.pdf).operations:
        match operator:
            case b"q":
                kept.append((scale, pen))
            case b"Q":
                scale, pen = kept.pop()
            case b"cm":
                a, b, c, d = (float(value) for value in operands[:4])
                scale *= math.sqrt(abs(a * d - b * c))
            case b"w":
                pen = float(operands[0])
            case b"S" | b"s" | b"B" | b"B*" | b"b" | b"b*":
                yield pen * scale / MM
            case b"Do":
                form = resources["/XObject"][operands[0]]
                if form["/Subtype"] == "/Form":
                    yield from _strokes(page, form, form.get("/Resources", resources), scale)
