"""The provenance sheet of one instrument: where the wood of its board came from, and with which papers."""

from __future__ import annotations

import base64

from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_GET

from boards import files
from boards.handing_out import Back, hand_out_pdf, not_printed
from boards.models import Blank, Condition, Kind, LogEntry, Photograph
from boards.printing import Sheet
from boards.qr import draw_qr
from boards.sheets import Occasion
from shop.models import Build

QR_SIDE = 26.0  # mm
MOST_PICTURES = 2  # of one board, on the sheet


@require_GET
def provenance(request: HttpRequest, build: str) -> HttpResponse:
    """Print it."""
    found = get_object_or_404(Build, number=build)
    finished = LogEntry.objects.filter(kind=Kind.FINISHED, undone_by=None).order_by("number")
    blanks = list(
        Blank.objects.filter(build__in=[found, *found.companions()])
        .exclude(condition=Condition.SCRAPPED)
        .select_related("species")
        .prefetch_related("papers", "photographs", Prefetch("log", finished, to_attr="finished"))
    )
    back = Back(reverse("shop:build", args=[found.number]), f"Look at {found.number}")
    if not blanks:
        return not_printed(request, [f"No blank is put to {found.number} yet, so there is nothing to tell."], back)
    occasion = Occasion.of(request)
    address = occasion.address + reverse("shop:build", args=[found.number])
    context = {
        **occasion.context,
        "build": found,
        "boards": [
            {"blank": blank, "pictures": _inlined(list(blank.photographs.all())[-MOST_PICTURES:])} for blank in blanks
        ],
        "address": address,
        "qr": draw_qr(address, QR_SIDE),
    }
    sheet = Sheet(render_to_string("print/provenance.html", context))
    title = f"Where the wood of {found.number} came from"
    return hand_out_pdf(request, lambda: [sheet], title, f"provenance-{found.number}.pdf", back)


def _inlined(photographs: list[Photograph]) -> list[dict[str, str]]:
    """Give photographs as the printing process takes them, which asks for no file; without those that are lost."""
    found = []
    for photograph in photographs:
        try:
            content = files.place_of(files.small(photograph.file)).read_bytes()
        except OSError:
            continue
        data = base64.b64encode(content).decode()
        found.append({"data": f"data:image/jpeg;base64,{data}", "note": photograph.note})
    return found
