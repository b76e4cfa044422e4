"""Boards to draw, and ways to read a drawing back."""

from __future__ import annotations

from dataclasses import replace
from xml.etree import ElementTree as ET

from geometry.request import BlankSize, Board, Cutter, EndRadii, Request, TwoScales, Wire

COMPOUND = Request(
    Board(647.7, 22, 43, 57, 8, 6.35, EndRadii(254, 406.4)),
    Wire(1.6, 0.58),
    blank=BlankSize(520, 70, 8.5),
    cutter=Cutter(16, 3),
)
FANNED = Request(
    Board(TwoScales(685.8, 647.7, 7), 24, 48, 62, 8, 6.35, EndRadii(400, 500)),
    Wire(1.6, 0.58),
    blank=BlankSize(560, 75, 8.5),
)
BASS = Request(
    Board(863.6, 21, 40, 63, 8, 6.35, EndRadii(254, 254), nut_ledge=5), Wire(1.6, 0.58), blank=BlankSize(740, 80, 6.9)
)
FLAT = Request(Board(650, 19, 52, 62, 4, 6.5, None), Wire(1.6, 0.58))
SHORT = replace(FLAT, board=replace(FLAT.board, frets=8))
BOARDS = {"compound": COMPOUND, "fanned": FANNED, "bass": BASS, "flat": FLAT, "short": SHORT}
HOSTILE = "<script>alert(1)</script> & \"quotes' \x00\x1b]]>"

SVG = "{http://www.w3.org/2000/svg}"


def read(svg: str) -> ET.Element:
    """Read a drawing as strictly as a renderer does."""
    return ET.fromstring(svg)


def of_class(root: ET.Element, name: str) -> list[ET.Element]:
    """All elements that carry a class."""
    return [element for element in root.iter() if name in element.get("class", "").split()]


def words(root: ET.Element) -> list[str]:
    """All that is written in the drawing itself."""
    return [element.text or "" for element in root.iter(SVG + "text")]


def corners(element: ET.Element) -> list[tuple[float, float]]:
    """Corners of an outline, y upwards as geometry has it."""
    return [(float(x), -float(y)) for x, y in (pair.split(",") for pair in element.get("points", "").split())]


def ends(line: ET.Element) -> tuple[tuple[float, float], tuple[float, float]]:
    """Both ends of a line, y upwards."""
    x1, y1, x2, y2 = (float(line.get(key, "nan")) for key in ("x1", "y1", "x2", "y2"))
    return (x1, -y1), (x2, -y2)


def lines_of(path: ET.Element) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Both ends of each line that a path is made of, y upwards."""
    found = []
    for line in path.get("d", "").split("M")[1:]:
        (x1, y1), (x2, y2) = (map(float, end.split()) for end in line.split("L"))
        found.append(((x1, -y1), (x2, -y2)))
    return found


def lines(root: ET.Element, name: str) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Both ends of each line in the paths that carry a class."""
    return [line for path in of_class(root, name) for line in lines_of(path)]


def box(root: ET.Element) -> tuple[float, float, float, float]:
    """Left, top, width, height of what the drawing shows."""
    left, top, width, height = map(float, root.get("viewBox", "").split())
    return left, top, width, height


def unit(root: ET.Element) -> float:
    """Drawn millimetres to one unit of the medium."""
    return box(root)[2] / float(root.get("width", "").removesuffix("mm"))
