"""A sheet to draw on: lines, outlines, text, hatching and dimensions, kept as SVG elements."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal
from xml.etree import ElementTree as ET

from django.utils.safestring import SafeString, mark_safe

Medium = Literal["screen", "paper"]
Point = tuple[float, float]

FAMILY = "'Source Sans', 'Source Sans Pro', sans-serif"
# Advances in em, read from the hmtx table of Source Sans, bold: good to a few hundredths, and never short.
_ADVANCES = {
    **dict.fromkeys("0123456789", 0.536),
    **dict.fromkeys(" \u00a0.,:;'", 0.31),
    **dict.fromkeys("fijlrt/()-", 0.4),
    **dict.fromkeys("mwMW%&@", 0.91),
    **dict.fromkeys("ABCDEFGHIJKLNOPQRSTUVXYZ", 0.69),
}


@dataclass(frozen=True, slots=True)
class Pens:
    """Line widths and text height in the medium's own unit: CSS pixels on the screen, millimetres on paper."""

    thin: float
    medium: float
    thick: float
    text: float
    arrow: float


PENS: dict[Medium, Pens] = {
    "screen": Pens(thin=1.1, medium=1.7, thick=2.6, text=16.0, arrow=8.0),
    # 3.4 mm is 9.6 pt: the least that is read on a sheet is 9.5 pt, the thinnest line that a copier keeps 0.2 mm.
    "paper": Pens(thin=0.22, medium=0.35, thick=0.6, text=3.4, arrow=2.2),
}


def number(value: float) -> str:
    """Write a coordinate: three places, no idle zeros, no minus before nothing."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def points(of: Iterable[Point]) -> str:
    """Write the ``points`` of an outline."""
    return " ".join(f"{number(x)},{number(y)}" for x, y in of)


def printable(text: str) -> str:
    """Leave out the characters that XML cannot carry."""
    return "".join(
        c
        for c in text
        if c in "\t\n" or (c >= " " and not 0x7F <= ord(c) <= 0x9F and (c.isprintable() or c == "\u00a0"))
    )


class Drawing:
    """An SVG in the making.

    Parameters
    ----------
    title, desc : str
        What a screen reader says in its place.
    box : tuple of float
        Left, top, width and height of what is drawn, in its own millimetres, y downwards.
    width : float
        Drawn width in the medium's unit. Line widths and text are of one size whatever the scale.
    medium : "screen" or "paper"
        On paper the SVG carries its size in mm; on the screen it takes the width that it is given.
    """

    def __init__(
        self, title: str, desc: str, box: tuple[float, float, float, float], *, width: float, medium: Medium = "screen"
    ) -> None:
        self.medium = medium
        self.pens = PENS[medium]
        left, top, wide, high = box
        self.unit = wide / width
        unit = "mm" if medium == "paper" else ""
        self.root = ET.Element(
            "svg",
            {
                "xmlns": "http://www.w3.org/2000/svg",
                "viewBox": " ".join(map(number, (left, top, wide, high))),
                "width": number(width) + unit,
                "height": number(high / self.unit) + unit,
                "role": "img",
                "fill": "none",
                "stroke": self.ink,
                "stroke-width": number(self.pens.thin * self.unit),
                "stroke-linejoin": "round",
                "font-family": FAMILY,
                "font-size": number(self.text_height),
            },
        )
        ET.SubElement(self.root, "title").text = printable(title)
        ET.SubElement(self.root, "desc").text = printable(desc)
        self._at = self.root

    @property
    def ink(self) -> str:
        """The colour of lines: the page's own on the screen, black on paper."""
        return "currentColor" if self.medium == "screen" else "#000"

    @property
    def ground(self) -> str:
        """The colour of what lies on top. The stylesheet gives it the page's own."""
        return "#fff"

    @property
    def text_height(self) -> float:
        """Height of the text in drawn millimetres."""
        return self.pens.text * self.unit

    def text_width(self, text: str, size: float = 1.0) -> float:
        """Width that a line of text takes, or a little more: enough to decide where it goes."""
        return sum(_ADVANCES.get(c, 0.58) for c in text) * self.text_height * size

    def add(self, tag: str, **attributes: str | float) -> ET.Element:
        """Add any element; ``_`` in a name stands for ``-``, a trailing one is dropped (``class_``)."""
        named = {
            name.rstrip("_").replace("_", "-"): number(value) if isinstance(value, int | float) else value
            for name, value in attributes.items()
        }
        return ET.SubElement(self._at, tag, named)

    def group(self, **attributes: str | float) -> Group:
        """Draw into a group while the ``with`` lasts."""
        return Group(self, self.add("g", **attributes))

    def _pen(self, pen: str) -> dict[str, str]:
        return {} if pen == "thin" else {"stroke_width": number(getattr(self.pens, pen) * self.unit)}

    def line(self, start: Point, end: Point, *, pen: str = "thin", **more: str | float) -> None:
        """Draw a straight line."""
        self.add("line", x1=start[0], y1=start[1], x2=end[0], y2=end[1], **self._pen(pen), **more)

    def lines(self, pairs: Iterable[tuple[Point, Point]], *, pen: str = "thin", **more: str | float) -> None:
        """Draw many straight lines as one path: a page with hundreds of drawings has so many parts the fewer."""
        d = "".join(f"M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}" for (x1, y1), (x2, y2) in pairs)
        if d:
            self.path(d, pen=pen, **more)

    def outline(
        self, corners: Iterable[Point], *, pen: str = "medium", closed: bool = True, **more: str | float
    ) -> None:
        """Draw an outline through its corners."""
        self.add("polygon" if closed else "polyline", points=points(corners), **self._pen(pen), **more)

    def path(self, d: str, *, pen: str = "thin", **more: str | float) -> None:
        """Draw a path."""
        self.add("path", d=d, **self._pen(pen), **more)

    def dashes(self, *lengths: float) -> dict[str, str]:
        """Dashes and gaps, in the medium's unit times the text height."""
        return {"stroke_dasharray": " ".join(number(length * self.text_height) for length in lengths)}

    def text(
        self,
        at: Point,
        words: str,
        *,
        anchor: Literal["start", "middle", "end"] = "start",
        size: float = 1.0,
        bold: bool = False,
        turn: float = 0.0,
        **more: str | float,
    ) -> None:
        """Write words with their baseline at a point; ``size`` multiplies the usual height."""
        attributes: dict[str, str | float] = {"x": at[0], "y": at[1], "fill": self.ink, "stroke": "none", **more}
        if anchor != "start":
            attributes["text_anchor"] = anchor
        if size != 1.0:
            attributes["font_size"] = self.text_height * size
        if bold:
            attributes["font_weight"] = "700"
        if turn:
            attributes["transform"] = f"rotate({number(turn)} {number(at[0])} {number(at[1])})"
        self.add("text", **attributes).text = printable(words)

    def cleared(self, at: Point, words: str, *, anchor: str = "start", turn: float = 0.0, **more: str | float) -> None:
        """Write words with the ground cleared behind them, where they may stand on lines.

        A rectangle, because not every renderer heeds ``paint-order`` on text.
        """
        wide, t = self.text_width(words), self.text_height
        left = at[0] - {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        turned = {"transform": f"rotate({number(turn)} {number(at[0])} {number(at[1])})"} if turn else {}
        self.add(
            "rect", x=left - 0.1 * t, y=at[1] - 0.75 * t, width=wide + 0.2 * t, height=0.9 * t,
            fill=self.ground, stroke="none", class_="ground", **turned,
        )  # fmt: skip
        self.text(at, words, anchor=anchor, turn=turn, **more)

    def hatch(self, corners: Sequence[Point], *, every: float, angle: float = 45.0, pen: str = "thin") -> None:
        """Hatch a convex outline with parallel lines ``every`` drawn mm apart.

        Drawn as lines rather than filled with a pattern: that needs an id, and ids clash where one page carries many
        drawings.
        """
        across = (-math.sin(math.radians(angle)), math.cos(math.radians(angle)))
        heights = [x * across[0] + y * across[1] for x, y in corners]
        edges = list(zip(corners, [*corners[1:], corners[0]], strict=True))
        lines: list[tuple[Point, Point]] = []
        # Counted from a fixed origin, so that neighbouring pieces are hatched in step.
        for k in range(math.ceil(min(heights) / every), math.floor(max(heights) / every) + 1):
            met = []
            for (x1, y1), (x2, y2) in edges:
                h1, h2 = x1 * across[0] + y1 * across[1] - k * every, x2 * across[0] + y2 * across[1] - k * every
                if (h1 < 0) != (h2 < 0):
                    met.append((x1 + (x2 - x1) * h1 / (h1 - h2), y1 + (y2 - y1) * h1 / (h1 - h2)))
            if len(met) == 2:
                lines.append((met[0], met[1]))
        self.lines(lines, pen=pen, class_="hatch")

    def arrow(self, tip: Point, direction: Point) -> None:
        """Draw a closed arrowhead that points along ``direction`` (a unit vector) to ``tip``."""
        length = self.pens.arrow * self.unit
        half = length * 0.18
        dx, dy = direction
        back = (tip[0] - dx * length, tip[1] - dy * length)
        corners = (tip, (back[0] - dy * half, back[1] + dx * half), (back[0] + dy * half, back[1] - dx * half))
        self.add("polygon", points=points(corners), fill=self.ink, stroke="none")

    def dimension(
        self, start: Point, end: Point, words: str, *, from_start: Point | None = None, from_end: Point | None = None
    ) -> None:
        """Draw a dimension along a level or upright line, its figure beside the middle, or beyond the end if too short.

        ``from_start`` and ``from_end`` are the points on the thing measured; thin lines lead from there.
        """
        dx, dy = end[0] - start[0], end[1] - start[1]
        length = math.hypot(dx, dy)
        along = (dx / length, dy / length) if length else (1.0, 0.0)
        overshoot = 0.35 * self.text_height
        for origin, stop in ((from_start, start), (from_end, end)):
            if origin is not None:
                ox, oy = stop[0] - origin[0], stop[1] - origin[1]
                far = math.hypot(ox, oy)
                if far > overshoot:
                    gap = min(overshoot, far / 2)
                    ux, uy = ox / far, oy / far
                    self.line(
                        (origin[0] + ux * gap, origin[1] + uy * gap),
                        (stop[0] + ux * overshoot, stop[1] + uy * overshoot),
                    )
        head = self.pens.arrow * self.unit
        if length > 2.5 * head:
            self.line(start, end)
            self.arrow(start, (-along[0], -along[1]))
            self.arrow(end, along)
        else:  # arrows from outside
            self.line((start[0] - along[0] * 2 * head, start[1] - along[1] * 2 * head), start)
            self.line(end, (end[0] + along[0] * 2 * head, end[1] + along[1] * 2 * head))
            self.arrow(start, along)
            self.arrow(end, (-along[0], -along[1]))
        if not words:
            return
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        lift = 0.3 * self.text_height
        if abs(dx) < abs(dy):
            self.cleared((middle[0] - lift, middle[1]), words, anchor="middle", turn=-90)
        elif self.text_width(words) < length - 2 * head:
            self.cleared((middle[0], middle[1] - lift), words, anchor="middle")
        else:
            self.cleared((max(start[0], end[0]) + 2.3 * head, middle[1] + 0.33 * self.text_height), words)

    def svg(self) -> SafeString:
        """Return the finished SVG; every text and attribute in it has been escaped by the XML writer."""
        return mark_safe(ET.tostring(self.root, encoding="unicode"))  # noqa: S308 - see the docstring


class Group:
    """The ``with`` of `Drawing.group`."""

    def __init__(self, drawing: Drawing, element: ET.Element) -> None:
        self.drawing, self.element = drawing, element

    def __enter__(self) -> None:
        self.outer, self.drawing._at = self.drawing._at, self.element

    def __exit__(self, *_: object) -> None:
        self.drawing._at = self.outer
