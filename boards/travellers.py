"""Job travellers as PDF: the sheets that go round with a blank."""

from __future__ import annotations

from collections.abc import Sequence

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from boards.actions import get_blank
from boards.benches import run_of
from boards.figures import Worked, worked
from boards.printing import PrintingFailed, print_pdf
from boards.sheets import Occasion, traveller_sheets, why_not
from shop import pango
from shop.stages import STAGES


@require_GET
def traveller(request: HttpRequest, number: str) -> HttpResponse:
    """Print the traveller of one blank."""
    board = worked(get_blank(number), request.shop)
    if board.result is None:
        return _no_sheet(request, [why_not(board)])
    return _answer(request, [board], [], f"Traveller of {number}", f"traveller-{number}.pdf")


@require_GET
def bench_travellers(request: HttpRequest, stage: str) -> HttpResponse:
    """Print the travellers of all boards that are ready at a bench, in the order in which they run."""
    if stage not in STAGES:
        raise Http404("There is no such bench.")
    groups, without = run_of(stage, request)
    boards = [board for group in groups for board in group.boards]
    work = STAGES[stage].label.lower()
    if not boards:
        words = f"No board that could be printed waits for {work}." if without else f"No board waits for {work}."
        return _no_sheet(request, [words, *map(why_not, without)])
    day = timezone.localdate()
    return _answer(request, boards, without, f"Travellers for {work}, {day}", f"travellers-{stage}-{day}.pdf")


def _answer(
    request: HttpRequest, boards: Sequence[Worked], without: Sequence[Worked], title: str, filename: str
) -> HttpResponse:
    if not pango.printing_available():
        return _no_sheet(request, [pango.advice(), "Then start the program again."], status=503)
    occasion = Occasion.of(request)
    try:
        pdf = print_pdf(traveller_sheets(boards, without, occasion), title)
    except PrintingFailed as failure:
        return _no_sheet(request, [str(failure)], status=503)
    response = HttpResponse(pdf, content_type="application/pdf")
    response.headers["Content-Disposition"] = f'inline; filename="{filename}"'
    response.headers["Cache-Control"] = "no-store"  # tomorrow's sheet is another one, under the same address
    return response


def _no_sheet(request: HttpRequest, reasons: list[str], status: int = 409) -> HttpResponse:
    return render(request, "boards/no_sheet.html", {"reasons": reasons}, status=status)
