"""Many travellers at once: printed by a process of its own, with a page that says how far it has come."""

from __future__ import annotations

import os
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from pathlib import Path
from uuid import UUID

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from boards.figures import Worked, worked_many
from boards.handing_out import pdf_response
from boards.models import Batch, Blank
from boards.printing import CHECKOUT, PRESSES, PrintingFailed, Sheet, bind, print_pdf
from boards.qr import home_of
from boards.sheets import Occasion, traveller_sheets
from boards.times import minutes_from_log
from shop.models import Hand, Shop
from shop.presses import carry_out

STRAIGHT_AWAY = 6  # travellers that are waited for; more are printed in the background
AT_A_TIME = 4  # boards whose sheets are made in one go
ASK_AGAIN = 3  # seconds, of a page without scripts


def folder() -> Path:
    """Say in which folder printed batches lie."""
    return settings.DATA / "prints"


def place_of(batch: Batch) -> Path:
    """Say where the PDF of a batch lies."""
    return folder() / f"{batch.pk}.pdf"


# On the pages


def print_many(request: HttpRequest, boards: Sequence[Worked], title: str, filename: str) -> HttpResponse:
    """Begin to print many travellers, and lead to the page that tells how far it has come."""
    numbers = [board.blank.number for board in boards]
    started: list[Batch] = []

    def do(hand: Hand) -> str:
        batch = Batch(
            title=title, filename=filename, numbers=numbers, address=home_of(request), at=hand.at, by=hand.by,
            beat_at=hand.at,
        )  # fmt: skip
        batch.save(force_insert=True)
        started.append(batch)
        return reverse("boards:batch", args=[batch.pk])

    answer = carry_out(request, do)
    if answer.status_code == 302 or "Tap-Next" in answer:
        for batch in started:
            launch(batch)
    drop_old(timezone.now())
    return answer


def launch(batch: Batch) -> None:
    """Start the process that prints a batch. It goes on when the page is left, and does not slow the pages down."""
    subprocess.Popen(
        [sys.executable, str(CHECKOUT / "manage.py"), "print_batch", str(batch.pk)],
        env={**os.environ, "CAMBERBOOK_PREPARE": "no"},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        start_new_session=True,
    )


def _of_theirs(request: HttpRequest, pk: UUID) -> Batch:
    """Fetch a batch of the person who asks."""
    batch = Batch.objects.filter(pk=pk, by=request.user).first()
    if batch is None:
        raise Http404("There is no such print of yours any more.")
    return batch


@require_GET
def batch_page(request: HttpRequest, batch: UUID) -> HttpResponse:
    """Tell how far a batch has come."""
    found = _of_theirs(request, batch)
    lost = found.is_lost(timezone.now())
    context = {"batch": found, "lost": lost, "again": ASK_AGAIN, "section": "benches"}
    page = "boards/_batch.html" if request.htmx else "boards/batch.html"
    return render(request, page, context)


@require_GET
def batch_pdf(request: HttpRequest, batch: UUID) -> HttpResponse:
    """Hand out what was printed."""
    found = _of_theirs(request, batch)
    try:
        content = place_of(found).read_bytes() if found.state == Batch.State.DONE else None
    except OSError:
        content = None
    return pdf_response(content, found.filename) if content else redirect("boards:batch", batch)


@require_POST
def cancel(request: HttpRequest, batch: UUID) -> HttpResponse:
    """Stop a batch."""
    found = _of_theirs(request, batch)

    def do(_hand: Hand) -> str:
        found.end(Batch.State.CANCELLED)  # printed meanwhile, it is printed
        return reverse("boards:batch", args=[batch])

    return carry_out(request, do)


# In the process that prints


def print_batch(batch: Batch) -> None:
    """Print a batch to its end: sheet by sheet on as many presses as there are cores, then bound together."""
    shop = Shop.current()
    occasion = Occasion(shop, batch.by, batch.at, batch.address, minutes_from_log("radiusing"))
    try:
        pages = _printed(batch, _sheets(batch, occasion))
        if pages is None:
            return
        pdf = bind(pages, batch.title)
    except PrintingFailed as failure:
        batch.end(Batch.State.FAILED, str(failure))
        return
    folder().mkdir(mode=0o700, parents=True, exist_ok=True)
    part = place_of(batch).with_suffix(".part")
    part.write_bytes(pdf)
    part.rename(place_of(batch))
    if not batch.end(Batch.State.DONE):
        place_of(batch).unlink(missing_ok=True)


def _sheets(batch: Batch, occasion: Occasion) -> Iterator[Sheet]:
    """Make the sheets of a batch, a few boards at a time, in their order; those without figures on one at the end."""
    without = []
    for start in range(0, batch.total, AT_A_TIME):
        numbers = batch.numbers[start : start + AT_A_TIME]
        found = {blank.number: blank for blank in Blank.objects.filter(number__in=numbers).with_spec()}
        boards = worked_many([found[number] for number in numbers if number in found], occasion.shop)
        yield from traveller_sheets([board for board in boards if board.result], [], occasion)
        without += [board for board in boards if not board.result]
    yield from traveller_sheets([], without, occasion)


def _printed(batch: Batch, sheets: Iterator[Sheet]) -> list[tuple[bytes, str]] | None:
    """Print sheets side by side; None once somebody has cancelled the batch."""
    stopped = threading.Event()

    def one(sheet: Sheet) -> tuple[bytes, str]:
        return (b"", "") if stopped.is_set() else (print_pdf([Sheet(sheet.html)], batch.title), sheet.notes)

    done = []
    with ThreadPoolExecutor(PRESSES) as pool:
        waiting = []
        for sheet in sheets:
            waiting.append(pool.submit(one, sheet))
            # No further ahead than the presses come: a sheet that is made lies in memory until it is printed.
            if len(waiting) > AT_A_TIME + PRESSES:
                done.append(waiting.pop(0).result())
                if not batch.goes_on(timezone.now(), printed=1):
                    stopped.set()
                    return None
        for each in waiting:
            done.append(each.result())
            if not batch.goes_on(timezone.now(), printed=1):
                stopped.set()
                return None
    return done


def drop_old(now: datetime) -> int:
    """Drop the PDFs of old batches. Returns how many batches they were."""
    old = list(Batch.old(now))
    for batch in old:
        place_of(batch).unlink(missing_ok=True)
    Batch.objects.filter(pk__in=[batch.pk for batch in old]).delete()
    return len(old)
