"""Job travellers as PDF: the sheets that go round with a blank."""

from __future__ import annotations

from collections.abc import Sequence

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_GET

from boards.actions import get_blank
from boards.benches import run_of
from boards.figures import Worked, worked
from boards.handing_out import hand_out_pdf, not_printed
from boards.sheets import Occasion, traveller_sheets, why_not
from shop.stages import STAGES


@require_GET
def traveller(request: HttpRequest, number: str) -> HttpResponse:
    """Print the traveller of one blank."""
    board = worked(get_blank(number), request.shop)
    if board.result is None:
        return not_printed(request, [why_not(board)])
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
        return not_printed(request, [words, *map(why_not, without)])
    day = timezone.localdate()
    return _answer(request, boards, without, f"Travellers for {work}, {day}", f"travellers-{stage}-{day}.pdf")


def _answer(
    request: HttpRequest, boards: Sequence[Worked], without: Sequence[Worked], title: str, filename: str
) -> HttpResponse:
    occasion = Occasion.of(request)
    return hand_out_pdf(request, lambda: traveller_sheets(boards, without, occasion), title, filename)
