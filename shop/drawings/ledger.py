"""The thickness ledger as stacked layers: the finished board, what each stage takes off, what is left over or short."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.safestring import SafeString

from geometry.request import Request
from geometry.result import Result
from geometry.units import LengthStyle
from shop.drawings.svg import Drawing, Medium, Point
from shop.drawings.words import UNIT_NAMES, written


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer, from the glue face up: what it is, where it starts, where it ends."""

    name: str
    low: float
    high: float

    @property
    def thick(self) -> float:
        """How thick it is."""
        return self.high - self.low


def layers(result: Result, request: Request) -> list[Layer]:
    """List the layers from the finished board up; the last is what is left over, or short, of a measured blank."""
    t = result.thickness
    found = [
        Layer("finished", 0.0, t.finished),
        Layer("final sanding", t.finished, t.after_radiusing),
        Layer("radiusing", t.after_radiusing, t.before_radiusing),
        Layer("thicknessing", t.before_radiusing, t.intake_min),
    ]
    if request.blank and request.blank.thickness > t.intake_min:
        found.append(Layer("left over", t.intake_min, request.blank.thickness))
    elif request.blank and request.blank.thickness < t.intake_min:
        found.append(Layer("short", request.blank.thickness, t.intake_min))
    return [layer for layer in found if layer.thick > 0]


def draw_ledger(
    result: Result,
    request: Request,
    *,
    style: LengthStyle = LengthStyle.MM,
    width: float | None = None,
    medium: Medium = "screen",
) -> SafeString:
    """Draw the layers to scale, each with its name and thickness, and the levels that the stages must leave.

    Parameters
    ----------
    result, request : Result, Request
        The board, worked out, and what was asked; with a measured blank, what is left over or short shows.
    style : LengthStyle
        How lengths are written.
    width : float, optional
        Drawn width: CSS pixels (400), on paper mm (85).
    medium : "screen" or "paper"
        Where it is drawn.
    """
    width = width or (400 if medium == "screen" else 85)
    found = layers(result, request)
    blank = request.blank.thickness if request.blank else None
    tall = max(result.thickness.intake_min, blank or 0.0)
    first = Drawing("", "", (0, 0, 1, 1), width=1, medium=medium).pens.text
    unit = tall / (19 * first)  # the whole stack is nineteen lines of text high
    t = first * unit
    title = f"Thickness from intake to finished, in {UNIT_NAMES[style]}"
    desc = ", ".join(_named(layer, style) for layer in reversed(found))
    on = Drawing(title, desc, (0.0, -1.2 * t, width * unit, tall + 3.6 * t), width=width, medium=medium)
    left = max(on.text_width(written(layer.high, style)) for layer in found) + 2.4 * t
    right = max(on.text_width(_named(layer, style), 1.05) for layer in found) + 2.2 * t
    bar = (left, left + min(5 * t, max(2.5 * t, width * unit - left - right)))
    _draw_layers(on, found, bar, tall)
    names = [((layer.low + layer.high) / 2, _named(layer, style)) for layer in found]
    for (value, words), y in zip(names, _spread([tall - v for v, _ in names], 1.25 * t, tall), strict=True):
        strong = words.startswith(("short", "left over"))
        _labelled(on, (bar[1], tall - value), (bar[1] + 1.6 * t, y), words, "start", strong)
    levels = [layer.high for layer in found if layer.name != "short"]
    if found[-1].name == "short":
        levels = sorted({*levels, found[-1].low})
    for value, y in zip(levels, _spread([tall - v for v in levels], 1.25 * t, tall), strict=True):
        _labelled(on, (bar[0], tall - value), (bar[0] - 1.4 * t, y), written(value, style), "end", value == blank)
    on.text((left, tall + 1.9 * t), f"Figures in {UNIT_NAMES[style]}", class_="soft")
    return on.svg()


def _named(layer: Layer, style: LengthStyle) -> str:
    return f"{layer.name} {written(layer.thick, style)}"


def _draw_layers(on: Drawing, found: list[Layer], bar: tuple[float, float], tall: float) -> None:
    """Draw the bar: the finished board plain, what will be cut off hatched, what is short in dashes."""
    for k, layer in enumerate(found):
        corners = [(x, tall - z) for x, z in ((bar[0], layer.low), (bar[0], layer.high))]
        corners += [(x, tall - z) for x, z in ((bar[1], layer.high), (bar[1], layer.low))]
        if layer.name == "short":
            on.outline(corners, pen="thick", class_="short", **on.dashes(0.5, 0.3))
            continue
        wood = layer.name == "finished"
        on.outline(
            corners, pen="thick" if wood else "thin", class_=f"layer {'wood' if wood else 'ground'}", fill=on.ground
        )
        if not wood and layer.name != "left over":
            on.hatch(corners, every=0.35 * on.text_height, angle=45.0 if k % 2 else -45.0)


def _spread(wanted: list[float], apart: float, tall: float) -> list[float]:
    """Move labels apart until none touches the next, each as near to its place as it goes; given from the lowest up."""
    placed = []
    ceiling = tall
    for y in wanted:
        ceiling = min(y, ceiling)
        placed.append(ceiling)
        ceiling -= apart
    over = -placed[-1] if placed and placed[-1] < 0 else 0.0
    floor = 0.0
    for k in range(len(placed) - 1, -1, -1):  # pushed out at the top: lay them down again from there
        if not over:
            break
        placed[k] = max(placed[k], floor)
        floor = placed[k] + apart
    return placed


def _labelled(on: Drawing, at: Point, to: Point, words: str, anchor: str, strong: bool) -> None:
    """Lead a thin line from the bar to its words."""
    side = 1 if anchor == "start" else -1
    t = on.text_height
    on.outline([at, (at[0] + side * 0.4 * t, at[1]), (to[0] - side * 0.3 * t, to[1]), to], pen="thin", closed=False)
    on.text((to[0] + side * 0.3 * t, to[1] + 0.33 * t), words, anchor=anchor, bold=strong)
