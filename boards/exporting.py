"""Everything that the shop entered, to take away: one table, or all of them in an archive."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from boards.tables.cells import Marks
from boards.tables.files import Way, write_archive, write_csv
from boards.tables.registry import GROUPS, table_named, tables
from boards.tables.table import Table
from boards.tables.words import RULES, readme
from geometry.units import LengthStyle

# What a person chooses, and what it means.
WAYS = {
    "comma": ("Commas between cells, points before decimals", Marks(",", ".", bom=True)),
    "semicolon": ("Semicolons between cells, commas before decimals", Marks(";", ",", bom=True)),
    "plain": ("For another program: commas, points, no mark at the beginning", Marks(",", ".", bom=False)),
}


@require_GET
def export(request: HttpRequest) -> HttpResponse:
    """Say what can be taken away, and what each column of it means."""
    chosen = _chosen(request)
    groups = [(group, [table for table in tables() if table.group == group]) for group in GROUPS]
    context = {
        "groups": [(group, its) for group, its in groups if its],
        "rules": RULES,
        "ways": [(key, words) for key, (words, _) in WAYS.items()],
        "way": chosen["way"],
        "own": "own" in chosen,
        "in_inches": request.shop.style is not LengthStyle.MM,
        "query": urlencode(chosen),
        "section": "kit",
    }
    return render(request, "boards/export.html", context)


@require_GET
def one_table(request: HttpRequest, table: str) -> StreamingHttpResponse:
    """Hand out one table."""
    wanted = table_named(table)
    if wanted is None:
        raise Http404("There is no such table.")
    return hand_out(request, wanted)


def hand_out(request: HttpRequest, table: Table) -> StreamingHttpResponse:
    """Hand out any table as a file, in the way that is asked for."""
    return _file(write_csv(table, _way(request)), f"{table.name}.csv", "text/csv; charset=utf-8")


@require_GET
def archive(request: HttpRequest) -> StreamingHttpResponse:
    """Hand out all tables in one archive."""
    way, now = _way(request), timezone.localtime()
    about = {"README.txt": readme(tables(), request.shop, way, now)}
    return _file(write_archive(tables(), way, now, about), f"camberbook-{now:%Y-%m-%d}.zip", "application/zip")


def _chosen(request: HttpRequest) -> dict[str, str]:
    way = request.GET.get("way", "")
    own = {"own": "yes"} if request.GET.get("own") == "yes" else {}
    return {"way": way if way in WAYS else "comma", **own}


def _way(request: HttpRequest) -> Way:
    chosen, style = _chosen(request), request.shop.style
    own = style if "own" in chosen and style is not LengthStyle.MM else None
    return Way(WAYS[chosen["way"]][1], own)


def _file(pieces, name: str, kind: str) -> StreamingHttpResponse:  # noqa: ANN001 - an iterator of bytes
    response = StreamingHttpResponse(pieces, content_type=kind)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    response.headers["Cache-Control"] = "no-store"
    response.headers["X-Content-Type-Options"] = "nosniff"
    return response
