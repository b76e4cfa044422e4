"""Job travellers as PDF: the sheets that go round with a blank."""

from __future__ import annotations

from collections.abc import Sequence

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from boards.actions import get_blank
from boards.batches import STRAIGHT_AWAY, print_many
from boards.benches import run_of
from boards.figures import Worked, worked
from boards.handing_out import hand_out_pdf, not_printed
from boards.sheets import Occasion, traveller_sheets, why_not
from shop import pango
from shop.stages import STAGES


@require_GET
def traveller(request: HttpRequest, number: str) -> HttpResponse:
    """Print the traveller of one blank."""
    board = worked(get_blank(number), request.shop)
    if board.result is None:
        return not_printed(request, [why_not(board)])
    return _answer(request, [board], [], f"Traveller of {number}", f"traveller-{number}.pdf")


@require_http_methods(["GET", "POST"])
def bench_travellers(request: HttpRequest, stage: str) -> HttpResponse:
    """Print the travellers of all boards that are ready at a bench, in the order in which they run.

    A few are waited for; many are printed in the background once somebody has pressed for it.
    """
    if stage not in STAGES:
        raise Http404("There is no such bench.")
    groups, without = run_of(stage, request)
    boards = [board for group in groups for board in group.boards]
    work = STAGES[stage].label.lower()
    if not boards:
        words = f"No board that could be printed waits for {work}." if without else f"No board waits for {work}."
        return not_printed(request, [words, *map(why_not, without)])
    day = timezone.localdate()
    title, filename = f"Travellers for {work}, {day}", f"travellers-{stage}-{day}.pdf"
    if not pango.printing_available() or (request.method == "GET" and len(boards) <= STRAIGHT_AWAY):
        return _answer(request, boards, without, title, filename)
    if request.method == "GET":
        context = {"title": title, "count": len(boards), "stage": stage, "section": "benches"}
        return render(request, "boards/many_travellers.html", context)
    return print_many(request, [*boards, *without], title, filename)


def _answer(
    request: HttpRequest, boards: Sequence[Worked], without: Sequence[Worked], title: str, filename: str
) -> HttpResponse:
    occasion = Occasion.of(request)
    return hand_out_pdf(request, lambda: traveller_sheets(boards, without, occasion), title, filename)
