"""What somebody gets who prints: the PDF, or a page that says why there is none and leads back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from boards.printing import PrintingFailed, Sheet, print_pdf
from shop import pango


@dataclass(frozen=True, slots=True)
class Back:
    """Where to go on from a sheet that was not printed."""

    address: str
    words: str


def hand_out_pdf(
    request: HttpRequest,
    make: Callable[[], Sequence[Sheet]],
    title: str,
    filename: str,
    back: Back | None = None,
    *,
    true_size: bool = False,
) -> HttpResponse:
    """Print sheets; they are made only where printing works."""
    if not pango.printing_available():
        return not_printed(request, [pango.advice(), "Then start the program again."], back, status=503)
    try:
        pdf = print_pdf(make(), title, true_size=true_size)
    except PrintingFailed as failure:
        return not_printed(request, [str(failure)], back, status=503)
    return pdf_response(pdf, filename)


def pdf_response(pdf: bytes, filename: str) -> HttpResponse:
    """Send a PDF, to be looked at in the browser."""
    response = HttpResponse(pdf, content_type="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{filename}"'
    response.headers["Cache-Control"] = "no-store"  # tomorrow's sheet is another one, under the same address
    return response


def not_printed(
    request: HttpRequest, reasons: Sequence[str], back: Back | None = None, status: int = 409
) -> HttpResponse:
    """Say why it was not."""
    return render(request, "boards/no_sheet.html", {"reasons": reasons, "back": back}, status=status)
