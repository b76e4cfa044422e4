"""A sheet of labels as it lies before the printer: which labels are used up, what the free ones will bear."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from django.utils.safestring import SafeString

from geometry.units import LengthStyle
from shop.drawings.svg import Drawing, Group
from shop.drawings.words import written
from shop.models.label_sheets import LabelSheet

MARGIN = 4.0  # CSS pixels around the paper


def draw_label_sheet(
    sheet: LabelSheet,
    style: LengthStyle,
    *,
    width: float = 560.0,
    first: int = 1,
    names: Sequence[str] = (),
    leads_to: Callable[[int], str] | None = None,
) -> SafeString:
    """Draw a sheet to scale.

    Parameters
    ----------
    sheet : LabelSheet
        The sheet.
    style : LengthStyle
        How lengths are written.
    width : float
        Of the drawing, CSS pixels.
    first : int
        The first free label; those before it are crossed out.
    names : sequence of str
        What the labels from the first free one on will bear, as far as it is known.
    leads_to : callable, optional
        Gives the address that a press on a label opens; without it labels cannot be pressed.
    """
    wide, high = float(sheet.paper_width), float(sheet.paper_height)
    unit = wide / (width - 2 * MARGIN)
    edge = MARGIN * unit
    said = f"{sheet.count} labels of {written(float(sheet.label_width), style)} by "
    said += f"{written(float(sheet.label_height), style)}; label {first} is the first free one"
    on = Drawing(f"Sheet {sheet}", said, (-edge, -edge, wide + 2 * edge, high + 2 * edge), width=width)
    on.add("rect", x=0, y=0, width=wide, height=high, class_="paper", stroke_width=on.pens.medium * on.unit)
    if leads_to:
        on.root.set("role", "group")  # a picture would hide its links from a screen reader
    for place in range(1, sheet.count + 1):
        name = names[place - first] if first <= place < first + len(names) else ""
        if leads_to is None:
            _draw_label(on, sheet, place, first, name)
            continue
        words = f"Start at label {place}"
        link = on.add("a", href=leads_to(place), aria_label=words, class_="label-place")
        if place == first:
            link.set("aria-current", "true")
        with Group(on, link):
            on.add("title").text = words
            _draw_label(on, sheet, place, first, name)
    return on.svg()


def _draw_label(on: Drawing, sheet: LabelSheet, place: int, first: int, name: str) -> None:
    x, y = map(float, sheet.corner(place))
    wide, high, round_ = float(sheet.label_width), float(sheet.label_height), float(sheet.corner_radius)
    pen = on.pens.thick if place == first else on.pens.thin
    on.add(
        "rect", x=x, y=y, width=wide, height=high, rx=round_, stroke_width=pen * on.unit, pointer_events="all",
        class_="label",
    )  # fmt: skip
    if place < first:
        on.line((x, y), (x + wide, y + high))
        on.line((x, y + high), (x + wide, y))
        return
    words = name or str(place)
    size = min(1.3, 0.85 * wide / max(on.text_width(words), 1e-9), 0.8 * high / on.text_height)
    soft = {} if name else {"class_": "free"}
    on.text((x + wide / 2, y + high / 2 + 0.35 * size * on.text_height), words, anchor="middle", size=size,
            bold=bool(name), **soft)  # fmt: skip


def draw_label_measures() -> SafeString:
    """Draw which measures of a sheet are asked for, on one that is nobody's; not to scale."""
    left, top, wide, high, across, down = 24.0, 22.0, 36.0, 20.0, 48.0, 32.0
    said = "Margins go from the edges of the sheet to the first label, pitches from one label to the next"
    on = Drawing("What is measured", said, (-14.0, -5.0, 142.0, 108.0), width=440.0)
    # The sheet goes on to the right and below: its edges are left open there.
    on.outline([(124.0, 0.0), (0.0, 0.0), (0.0, 101.0)], closed=False, pen="thick")
    for x in (left, left + across):
        for y in (top, top + down):
            on.add("rect", x=x, y=y, width=wide, height=high, rx=2.0, stroke_width=on.pens.medium * on.unit)
    first, second = top + high * 0.6, left + wide * 0.5
    on.dimension((0.0, first), (left, first), "left")
    on.dimension((second, 0.0), (second, top), "top")
    below, right = top + down + high + 9.0, left + across + wide + 9.0
    row, column = top + down + high, left + across + wide
    on.dimension((left, below), (left + across, below), "pitch across", from_start=(left, row),
                 from_end=(left + across, row))  # fmt: skip
    on.dimension((left + across, below + 12), (column, below + 12), "width", from_start=(left + across, row),
                 from_end=(column, row))  # fmt: skip
    on.dimension(
        (right, top), (right, top + down), "pitch down", from_start=(column, top), from_end=(column, top + down)
    )
    on.dimension((right, top + down), (right, row), "height", from_start=(column, top + down), from_end=(column, row))
    return on.svg()
