"""QR codes for paper (ISO/IEC 18004)."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

import segno
from django.http import HttpRequest
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

QUIET = 4  # modules left white on every side, as the standard asks
LEAST_MODULE = 0.5  # mm; the standard leaves it open, a phone's camera does not (common practice, no source)


def home_of(request: HttpRequest) -> str:
    """Tell where codes lead to: the address that the shop has set, or else the one asked at."""
    return (request.shop.web_address or request.build_absolute_uri("/")).rstrip("/")


def address_of(home: str, number: str) -> str:
    """Tell which address the code of a blank leads to: the blank, wherever its work goes on."""
    return home + reverse("boards:scan", args=[number])


def draw_qr(address: str, side: float) -> SafeString:
    """Draw a code with its quiet zone, `side` mm wide; wider if its modules would come out too small to scan.

    Error correction M: the code survives 15 % of dust and pencil.
    """
    code = segno.make_qr(address, error="m", boost_error=False)
    modules = code.symbol_size(border=QUIET)[0]
    module = max(side / modules, LEAST_MODULE)
    svg = code.svg_inline(scale=round(module, 4), unit="mm", border=QUIET, dark="#000", lineclass=None, svgclass="qr")
    return mark_safe(svg)  # noqa: S308 - the address itself is not in it, only its modules


@dataclass(frozen=True, slots=True)
class Code:
    """A code as a path: a module is 1 wide, the quiet zone belongs to it."""

    modules: int
    path: str


def encode(address: str) -> Code:
    """Encode an address, error correction M, to be drawn among other things."""
    code = segno.make_qr(address, error="m", boost_error=False)
    runs = []
    for y, row in enumerate(code.matrix):
        x = 0
        for dark, run in groupby(row):
            many = len(list(run))
            if dark:
                runs.append(f"M{x + QUIET} {y + QUIET}h{many}v1h-{many}z")
            x += many
    return Code(code.symbol_size(border=QUIET)[0], "".join(runs))
