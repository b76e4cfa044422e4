"""The board cut across at the nut, at the twelfth fret and at the heel, its heights drawn larger than true."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString

from geometry.request import Request
from geometry.result import FretLine, Result
from geometry.surface import sagitta
from geometry.units import LengthStyle
from shop.drawings.svg import Drawing, Medium, Point, number
from shop.drawings.words import UNIT_NAMES, written, written_radius

HEIGHTS = 4  # how much higher than true: the drawing says so


@dataclass(frozen=True, slots=True)
class Cut:
    """One section and its figures; at the nut and at the heel there is no slot."""

    name: str
    width: float
    radius: float | None
    edge: float
    depth: float | None
    web: float | None


def cuts(result: Result, request: Request) -> list[Cut]:
    """Find the figures of the sections: the nut, fret 12 (the last fret of a shorter board) and the heel end.

    All are square to the centreline, so on a fanned board an edge here is a little thicker than at the fret's ends.
    """
    frets, board = result.board.frets, request.board
    middle = frets[min(12, len(frets) - 1)]
    radius = board.radius.heel if board.radius else None
    drop = float(sagitta(radius, board.heel_width)) if radius else 0.0
    return [
        _at_fret("Nut", frets[0], board.thickness),
        _at_fret(f"Fret {middle.fret}", middle, board.thickness),
        Cut("Heel", board.heel_width, radius, board.thickness - drop, None, None),
    ]


def _at_fret(name: str, fret: FretLine, thickness: float) -> Cut:
    return Cut(name, fret.width, fret.radius, thickness - fret.sagitta, fret.slot_depth, fret.web)


def draw_sections(
    result: Result,
    request: Request,
    *,
    style: LengthStyle = LengthStyle.MM,
    width: float | None = None,
    medium: Medium = "screen",
    abreast: bool = False,
) -> SafeString:
    """Draw the sections, one under another or side by side.

    Parameters
    ----------
    result, request : Result, Request
        The board, worked out, and what was asked.
    style : LengthStyle
        How lengths are written.
    width : float, optional
        Drawn width: CSS pixels (400 under one another, 1080 abreast), on paper mm (85, 178).
    medium : "screen" or "paper"
        Where it is drawn.
    abreast : bool
        Side by side.
    """
    usual = {("screen", False): 400, ("screen", True): 1080, ("paper", False): 85, ("paper", True): 178}
    return _Sections(result, request, style, width or usual[medium, abreast], medium, abreast).draw()


class _Sections:
    def __init__(
        self, result: Result, request: Request, style: LengthStyle, width: float, medium: Medium, abreast: bool
    ) -> None:
        self.result, self.request, self.style, self.abreast = result, request, style, abreast
        self.cuts = cuts(result, request)
        self.widest = max(cut.width for cut in self.cuts)
        across = len(self.cuts) if abreast else 1
        first = Drawing("", "", (0, 0, 1, 1), width=1, medium=medium).pens.text
        left, right = 3.0, 2.4  # text heights beside a section, for its edge and for its middle
        self.t = t = first * (across * self.widest) / (width - across * (left + right) * first)
        self.left = left * t
        self.cell_wide = self.widest + (left + right) * t
        self.high = HEIGHTS * request.board.thickness
        measure = Drawing("", "", (0, 0, t / first, 1), width=1, medium=medium).text_width
        self.tight = any(measure(f"{cut.name} {self._radius(cut)}") > cut.width for cut in self.cuts)
        self.above = (3.7 if self.tight else 2.5) * t  # name and radius, in two lines where one has no room
        self.cell_high = self.above + self.high + 2.9 * t
        down = 1 if abreast else len(self.cuts)
        title = f"Sections of the board, in {UNIT_NAMES[style]}, height × {HEIGHTS}"
        desc = "; ".join(self._said(cut) for cut in self.cuts)
        self.caption = 1.5 * t
        box = (0.0, 0.0, across * self.cell_wide, down * self.cell_high + self.caption)
        self.on = Drawing(title, desc, box, width=width, medium=medium)

    def _radius(self, cut: Cut) -> str:
        return f"radius {written_radius(cut.radius, self.style)}" if cut.radius else "flat"

    def _said(self, cut: Cut) -> str:
        said = f"{cut.name}: {written(cut.width, self.style)} wide, {self._radius(cut)}"
        said += f", edge {written(cut.edge, self.style)}"
        return said + (f", web {written(cut.web, self.style)}" if cut.web is not None else "")

    def draw(self) -> SafeString:
        for k, cut in enumerate(self.cuts):
            x = (k * self.cell_wide if self.abreast else 0.0) + self.left + self.widest / 2
            base = (0.0 if self.abreast else k * self.cell_high) + self.above + self.high
            self._section(cut, x, base)
        foot = f"Figures in {UNIT_NAMES[self.style]}, height × {HEIGHTS}"
        on = self.on
        _, _, _, high = map(float, on.root.get("viewBox", "").split())
        on.text((self.left, high - 0.35 * self.t), foot, class_="soft")
        return on.svg()

    def _section(self, cut: Cut, x: float, base: float) -> None:
        on, t, half = self.on, self.t, cut.width / 2
        edge, top = base - HEIGHTS * cut.edge, base - HEIGHTS * self.request.board.thickness
        arc = self._arc(cut.radius)
        ends = f"{arc}{number(x + half)} {number(edge)}"
        start = f"M{number(x - half)} {number(base)}V{number(edge)}"
        on.path(f"{start}{ends}V{number(base)}Z", pen="thick", class_="board wood", fill=on.ground)
        if self.tight:
            on.text((x, top - 1.95 * t), cut.name, bold=True, anchor="middle")
            on.text((x, top - 0.75 * t), self._radius(cut), anchor="middle")
        else:
            on.text((x - half, top - 0.75 * t), cut.name, bold=True)
            on.text((x + half, top - 0.75 * t), self._radius(cut), anchor="end")
        if cut.depth is not None and cut.web is not None:
            self._slot(cut, x, base)
        on.dimension(
            (x - half, base + 1.75 * t), (x + half, base + 1.75 * t), written(cut.width, self.style),
            from_start=(x - half, base), from_end=(x + half, base),
        )  # fmt: skip
        self._upright(x - half - 1.6 * t, (x - half, edge), (x - half, base), cut.edge)
        self._upright(x + half + 1.6 * t, (x, top), (x + half, base),
                      self.request.board.thickness)  # fmt: skip

    def _arc(self, radius: float | None) -> str:
        """Draw on along the curve: a circle of so much more height is an ellipse, exactly."""
        return f"A{number(radius)} {number(radius * HEIGHTS)} 0 0 1 " if radius else "L"

    def _slot(self, cut: Cut, x: float, base: float) -> None:
        """Draw the slot's floor, level if sawn before radiusing, curved if after, and the web left under it."""
        on, half = self.on, cut.width / 2
        floor = base - HEIGHTS * cut.web
        if self.request.slotting == "after radiusing":
            d = f"M{number(x - half)} {number(floor)}{self._arc(cut.radius)}{number(x + half)} {number(floor)}"
            on.path(d, class_="slot-floor", **on.dashes(0.5, 0.25))
        else:
            on.line((x - half, floor), (x + half, floor), class_="slot-floor", **on.dashes(0.5, 0.25))
        at = x + 0.62 * half
        on.dimension((at, base), (at, floor), "")
        on.text(
            (at - 0.5 * self.t, (base + floor) / 2 + 0.33 * self.t), f"web {written(cut.web, self.style)}", anchor="end"
        )

    def _upright(self, x: float, top: Point, foot: Point, value: float) -> None:
        self.on.dimension((x, foot[1]), (x, top[1]), written(value, self.style), from_start=foot, from_end=top)
