"""Drawings at full size to be tested, and what is read back from their files by other libraries."""

from __future__ import annotations

import io
import math
from collections import defaultdict
from dataclasses import dataclass
from xml.etree import ElementTree as ET

import ezdxf
import pdfplumber

from geometry.request import Board, Cutter, EndRadii, Jig, Request, TwoScales, Wire
from geometry.result import Result
from geometry.shapes import FormerShape, shape_former
from geometry.units import LengthStyle
from geometry.workout import work_out
from shop.fullsize.board import draw_centreline_gauge, draw_slotting_template, draw_taper_template
from shop.fullsize.description import FullSize
from shop.fullsize.former import Holes, Plate, draw_former
from tests.print.paper import MM

Point = tuple[float, float]

JIG = Jig(span=900, end_clearance=60, rail_spacing=120, rail_diameter=20, rail_plane=110, riser=30)
HOLES = Holes(100, 6.5, 20)
COMPOUND = Board(628, 24, 42, 56, 8, 6, EndRadii(254, 406.4))
FANNED = Board(TwoScales(711, 660, 7), 24, 56, 76, 8, 6, EndRadii(508, 508), nut_ledge=5)
FLAT = Board(650, 19, 52, 62, 8, 6, None)


def asked(board: Board = COMPOUND) -> tuple[Request, Result]:
    request = Request(board, Wire(1.6, 0.58), jig=JIG, cutter=Cutter(16, 2))
    return request, work_out(request)


def pair_shape(result: Result, end: int = 0) -> FormerShape:
    made = result.formers_to_make[end]
    return shape_former(made.radius, made.apex, made.half_width)


def former(
    board: Board = COMPOUND,
    end: int = 0,
    *,
    shape: FormerShape | None = None,
    words: tuple[str, ...] = ("Head end, B901", "Lark", "Bench jig"),
    holes: Holes | None = HOLES,
    style: LengthStyle = LengthStyle.MM,
    marked: bool = True,
) -> FullSize:
    _, result = asked(board)
    plate = Plate("head-former-B901", "Former at the head, for B901", words, result.passes if marked else None, holes)
    return draw_former(shape or pair_shape(result, end), plate, style)


def template(
    kind: str, board: Board = COMPOUND, what: str = "B901 Lark", style: LengthStyle = LengthStyle.MM
) -> FullSize:
    draw = {"taper": draw_taper_template, "slotting": draw_slotting_template, "gauge": draw_centreline_gauge}[kind]
    return draw(*asked(board), what, f"{kind}-B901", style)


@dataclass
class ReadBack:
    """What a file draws, by layer; y upwards, mm. Arcs as centre, radius and the two ends."""

    lines: dict[str, list[tuple[Point, Point]]]
    arcs: dict[str, list[tuple[Point, float, Point, Point]]]
    circles: dict[str, list[tuple[Point, float]]]
    words: dict[str, list[str]]

    @classmethod
    def nothing(cls) -> ReadBack:
        return cls(defaultdict(list), defaultdict(list), defaultdict(list), defaultdict(list))


def read_dxf(content: bytes) -> ReadBack:
    document = ezdxf.read(io.TextIOWrapper(io.BytesIO(content), encoding="cp1252", newline=""))
    assert not document.audit().errors
    found = ReadBack.nothing()
    for thing in document.modelspace():
        layer = thing.dxf.layer
        match thing.dxftype():
            case "LINE":
                found.lines[layer].append((tuple(thing.dxf.start)[:2], tuple(thing.dxf.end)[:2]))
            case "ARC":
                ends = tuple(thing.end_point)[:2], tuple(thing.start_point)[:2]
                found.arcs[layer].append((tuple(thing.dxf.center)[:2], thing.dxf.radius, *ends))
            case "CIRCLE":
                found.circles[layer].append((tuple(thing.dxf.center)[:2], thing.dxf.radius))
            case "TEXT":
                found.words[layer].append(thing.plain_text())
            case other:
                raise AssertionError(f"A {other} has no business here")
    return found


def read_svg(content: bytes) -> ReadBack:
    found, ns = ReadBack.nothing(), "{http://www.w3.org/2000/svg}"
    root = ET.fromstring(content)
    for group in root.iter(f"{ns}g"):
        layer = group.find(f"{ns}title").text
        for thing in group:
            at = {name: float(value) for name, value in thing.attrib.items() if _is_number(value)}
            match thing.tag.removeprefix(ns):
                case "line":
                    found.lines[layer].append(((at["x1"], -at["y1"]), (at["x2"], -at["y2"])))
                case "path":
                    found.arcs[layer].append(_svg_arc(thing.attrib["d"]))
                case "circle":
                    found.circles[layer].append(((at["cx"], -at["cy"]), at["r"]))
                case "text":
                    found.words[layer].append(thing.text)
                case "title":
                    pass
                case other:
                    raise AssertionError(f"A {other} has no business here")
    return found


def _is_number(value: str) -> bool:
    try:
        float(value)
    except ValueError:
        return False
    return True


def _svg_arc(d: str) -> tuple[Point, float, Point, Point]:
    """Centre, radius and ends of ``M x y A r r 0 0 1 x y``, drawn clockwise as seen, the lesser arc (SVG 1.1, F.6)."""
    start, rest = d.removeprefix("M").split("A")
    x0, y0 = (float(value) for value in start.split())
    rx, ry, turn, long, sweep, x1, y1 = (float(value) for value in rest.split())
    assert rx == ry and (turn, long, sweep) == (0, 0, 1)
    half = math.dist((x0, y0), (x1, y1)) / 2
    off = math.sqrt(max(0.0, rx**2 - half**2))
    ux, uy = (x1 - x0) / half / 2, (y1 - y0) / half / 2
    # With y downwards a clockwise arc has its centre to the right of the way along its chord.
    centre = (x0 + x1) / 2 - uy * off, (y0 + y1) / 2 + ux * off
    return (centre[0], -centre[1]), rx, (x0, -y0), (x1, -y1)


def lines_on(pdf: bytes) -> list[list[tuple[Point, Point, float]]]:
    """The straight lines of each page with their pen: mm from the lower left corner. Clipping is not heeded."""
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        return [
            [(*_points(page, line["pts"]), line["linewidth"]) for line in page.lines if len(line["pts"]) == 2]
            for page in document.pages
        ]


def arcs_on(pdf: bytes, steps: int = 200) -> list[list[list[Point]]]:
    """The curves of each page as many points each: mm from the lower left corner."""
    with pdfplumber.open(io.BytesIO(pdf)) as document:
        return [[_along(page, curve["path"], steps) for curve in page.curves] for page in document.pages]


def _points(page, points) -> list[Point]:
    return [(x / MM, (float(page.height) - y) / MM) for x, y in points]


def _along(page, path, steps: int) -> list[Point]:
    """Walk along a path of straight lines and Bézier curves of the third order (ISO 32000-1, 8.5.2.2)."""
    found, at = [], (0.0, 0.0)
    for operator, *points in path:
        points = _points(page, points)
        if operator == "c":
            a, (b, c, d) = at, points
            for k in range(1, steps + 1):
                t = k / steps
                weights = ((1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3)
                found.append(tuple(sum(w * p[i] for w, p in zip(weights, (a, b, c, d), strict=True)) for i in (0, 1)))
        elif points:
            found.append(points[-1])
        at = points[-1] if points else at
    return found
