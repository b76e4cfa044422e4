"""Drawings at full size as files: PDF for paper, SVG and DXF for machines."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_GET

from boards.handing_out import Back, not_printed
from boards.printing import PrintingFailed, Sheet, print_pdf
from geometry.errors import GeometryError
from geometry.request import Request
from geometry.result import Result
from geometry.units import LengthStyle
from geometry.workout import work_out
from shop import pango
from shop.builds import get_build
from shop.fullsize.board import draw_centreline_gauge, draw_slotting_template, draw_taper_template
from shop.fullsize.description import FullSize
from shop.fullsize.dxf import write_dxf
from shop.fullsize.kit import draw_former_to_make, draw_rack_former
from shop.fullsize.pages import lay_out, pages
from shop.fullsize.svg import write_svg
from shop.models import Build, Former, Shop

NO_JIG = "No radius jig is set up. Set one up under Kit; then it can be worked out which formers to make."
NO_CUTTER = "Nobody has said which cutter is on the radius jig. Choose one under Kit; the passes depend on it."

Draw = Callable[[Request, Result, str, str, LengthStyle], FullSize]
TEMPLATES: dict[str, Draw] = {
    "taper-template": draw_taper_template,
    "slotting-template": draw_slotting_template,
    "centreline-gauge": draw_centreline_gauge,
}
ENDS = {"head-former": "head", "heel-former": "heel"}


class NoDrawing(Exception):
    """There is no such drawing; the reasons say why, in words for the person who wanted it."""

    def __init__(self, *reasons: str) -> None:
        super().__init__(*reasons)
        self.reasons = list(reasons)


@require_GET
def former(request: HttpRequest, pk: int, kind: str) -> HttpResponse:
    """Draw a former of the rack, on request with the pass marks of a build."""
    wanted = get_object_or_404(Former.objects.select_related("jig"), pk=pk)
    back = Back(reverse("shop:former", args=[wanted.jig_id, pk]), f"Look at former {wanted.name}")
    build = get_build(request.GET["build"]) if request.GET.get("build") else None

    def draw() -> FullSize:
        result = None
        if build:
            _, result = _work_out(build, request.shop, jig=False)
            if build.radius_nut is None:
                raise NoDrawing(f"{build.number} is flat: its strokes are not marked on a round former.")
        return draw_rack_former(wanted, request.shop.style, build, result)

    return _answer(request, kind, draw, back)


@require_GET
def of_build(request: HttpRequest, build: str, what: str, kind: str) -> HttpResponse:
    """Draw a template for a build, or one of the formers to make for it."""
    wanted, shop = get_build(build), request.shop
    back = Back(reverse("shop:build", args=[wanted.number]), f"Look at {wanted.number}")

    def draw() -> FullSize:
        if what in TEMPLATES:
            return TEMPLATES[what](*_work_out(wanted, shop), str(wanted), f"{what}-{wanted.number}", shop.style)
        _, result = _work_out(wanted, shop, jig=True)
        return draw_former_to_make(ENDS[what], wanted, result, shop.jig, shop.style)

    if what not in TEMPLATES and what not in ENDS:
        raise Http404("There is no such drawing.")
    return _answer(request, kind, draw, back)


def _work_out(build: Build, shop: Shop, *, jig: bool | None = None) -> tuple[Request, Result]:
    """Work a build out: with the cutter if ``jig`` is given, with the jig as well if it is true.

    Passes and formers then serve the widest blank that is put to it.
    """
    more: dict[str, Any] = {}
    if jig is not None:
        if jig and shop.jig is None:
            raise NoDrawing(NO_JIG)
        if shop.cutter is None:
            raise NoDrawing(NO_CUTTER)
        blank = build.blanks.not_scrapped().order_by("-width").first()
        more = {"cutter": shop.cutter.as_request(), "scallop_max": float(shop.scallop_max)}
        more |= {"blank": blank.size} if blank else {}
        more |= {"jig": shop.jig.as_request()} if jig else {}
    try:
        asked = build.as_request(**more)
        return asked, work_out(asked, shop.style)
    except GeometryError as error:
        raise NoDrawing(*(problem.message for problem in error.problems)) from error


def _answer(request: HttpRequest, kind: str, draw: Callable[[], FullSize], back: Back) -> HttpResponse:
    """Write a drawing as the kind of file that is asked for."""
    larger = request.GET.get("paper") == "larger"
    writers = {
        "pdf": ("application/pdf", "inline", lambda drawing: write_pdf(drawing, request.shop.paper, larger=larger)),
        "svg": ("image/svg+xml", "inline", write_svg),
        "dxf": ("image/vnd.dxf", "attachment", write_dxf),
    }
    if kind not in writers:
        raise Http404("There is no such file.")
    media_type, disposition, write = writers[kind]
    if kind == "pdf" and not pango.printing_available():
        return not_printed(request, [pango.advice(), "Then start the program again."], back, status=503)
    try:
        drawing = draw()
        content = write(drawing)
    except NoDrawing as none:
        return not_printed(request, none.reasons, back)
    except PrintingFailed as failure:
        return not_printed(request, [str(failure)], back, status=503)
    response = HttpResponse(content, content_type=media_type)
    response.headers["Content-Disposition"] = f'{disposition}; filename="{drawing.name}.{kind}"'
    response.headers["Cache-Control"] = "no-store"  # a spec or a jig that is changed gives another drawing
    return response


def write_pdf(drawing: FullSize, paper: str, *, larger: bool = False) -> bytes:
    """Print a drawing on what is in the shop's printer, or on the next larger paper if it takes that as well."""
    sheets = [
        Sheet(render_to_string("print/full_size.html", {"page": page, "title": drawing.title}))
        for page in pages(drawing, lay_out(drawing, paper, larger=larger))
    ]
    return print_pdf(sheets, drawing.title, true_size=True)
