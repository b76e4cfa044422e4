"""Sheets of labels as they are printed: every label where the sheet's geometry has it, and a page to try that with."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from django.template.loader import render_to_string
from django.utils.formats import date_format
from django.utils.safestring import SafeString

from boards.label_layout import LEAST_TYPE, PT, LabelTooSmall, Words, lay_out
from boards.models import Blank
from boards.printing import Sheet
from boards.qr import encode
from geometry.units import LengthStyle, format_length, format_stock
from shop.drawings.svg import Drawing, Group, number
from shop.models import LabelSheet, Refused

PAGES_AT_ONCE = 25  # pages of one sheet handed to the printer's process; each has its own time limit
BARS = (100.0, 50.0, 20.0)  # mm: the longest that fits is drawn
REACH, TICK = 3, 1.5  # mm that the scale beside a label's edge goes to either side, and how long its ticks are


def label_words(blank: Blank, style: LengthStyle) -> Words:
    """Say on a label what a blank is."""
    sides = [format_stock(value, style) for value in (blank.length, blank.width, blank.thickness)]
    unit = "mm" if style is LengthStyle.MM else "in"
    return Words(
        number=blank.number,
        species=blank.species.name,
        size=f"{' × '.join(sides)} {unit}",
        received=f"Came in {date_format(blank.received_on)}",
    )


def label_sheets(
    blanks: Sequence[tuple[Blank, str]], sheet: LabelSheet, style: LengthStyle, *, first: int = 1
) -> list[Sheet]:
    """Lay out labels for blanks, each with the address that its code leads to, from the first free label on.

    Raises
    ------
    Refused
        If a label of this sheet is too small for what has to stand on it.
    """
    free = [None] * (first - 1)
    places = [*free, *blanks]
    pages = [_page(sheet, places[start : start + sheet.count], style) for start in range(0, len(places), sheet.count)]
    return _as_sheets(pages, sheet, "Labels")


def _as_sheets(pages: Sequence[SafeString], sheet: LabelSheet, title: str) -> list[Sheet]:
    return [
        Sheet(
            render_to_string(
                "print/labels.html", {"pages": pages[start : start + PAGES_AT_ONCE], "sheet": sheet, "title": title}
            )
        )
        for start in range(0, len(pages), PAGES_AT_ONCE)
    ]


def _drawing(sheet: LabelSheet, title: str) -> Drawing:
    width, height = float(sheet.paper_width), float(sheet.paper_height)
    return Drawing(title, f"Sheet {sheet}, true size", (0.0, 0.0, width, height), width=width, medium="paper")


def _page(sheet: LabelSheet, places: Iterable[tuple[Blank, str] | None], style: LengthStyle) -> SafeString:
    on = _drawing(sheet, "Labels")
    for place, wanted in enumerate(places, 1):
        if wanted is None:
            continue
        x, y = _corner(sheet, place)
        wide, high = float(sheet.label_width), float(sheet.label_height)
        label = on.add(
            "svg", x=x, y=y, width=wide, height=high, viewBox=f"0 0 {number(wide)} {number(high)}", overflow="hidden"
        )  # fmt: skip
        with Group(on, label):
            _draw_label(on, wanted[0], wanted[1], sheet, style)
    return on.svg()


def _draw_label(on: Drawing, blank: Blank, address: str, sheet: LabelSheet, style: LengthStyle) -> None:
    code = encode(address)
    try:
        layout = lay_out(label_words(blank, style), float(sheet.label_width), float(sheet.label_height), code.modules)
    except LabelTooSmall:
        size = (
            f"{format_length(sheet.label_width, style, with_unit=False)} × {format_length(sheet.label_height, style)}"
        )
        raise Refused(
            f"{blank.number} and its code do not fit on labels of {size}. Choose a sheet with larger ones."
        ) from None
    move = f"translate({number(layout.code_x)} {number(layout.code_y)}) scale({number(layout.module)})"
    on.add("path", d=code.path, transform=move, fill=on.ink, stroke="none")
    for line in layout.lines:
        more = {"font_weight": str(line.weight), "font_size": line.height}
        on.text((line.x, line.y), line.words, **more)


def calibration_sheet(sheet: LabelSheet, style: LengthStyle) -> list[Sheet]:
    """Draw the frames of a sheet's labels, scales at the edges of the first and the last, and bars to check with."""
    on = _drawing(sheet, "Frames of the labels")
    wide, high = float(sheet.label_width), float(sheet.label_height)
    for place in range(1, sheet.count + 1):
        x, y = _corner(sheet, place)
        on.add("rect", x=x, y=y, width=wide, height=high)
    for place, outward in ((1, -1), (sheet.count, 1)):
        x, y = _corner(sheet, place)
        _scale(on, (x if outward < 0 else x + wide, y + high / 2), level=True)
        _scale(on, (x + wide / 2, y if outward < 0 else y + high), level=False)
    _check_bars(on, sheet, style)
    return _as_sheets([on.svg()], sheet, f"Frames of {sheet}")


def _scale(on: Drawing, at: tuple[float, float], *, level: bool) -> None:
    """Draw ticks of a millimetre across an edge, to read off how far the edge of a real label lies from the frame."""
    x, y = at
    for step in range(-REACH, REACH + 1):
        long = TICK * (2 if step == 0 else 1)
        if level:
            on.line((x + step, y - long / 2), (x + step, y + long / 2))
        else:
            on.line((x - long / 2, y + step), (x + long / 2, y + step))


def _check_bars(on: Drawing, sheet: LabelSheet, style: LengthStyle) -> None:
    width, height = float(sheet.paper_width), float(sheet.paper_height)
    level, upright = (next((bar for bar in BARS if bar <= side * 0.7), BARS[-1] / 2) for side in (width, height))
    x, y = width * 0.14, height * 0.86
    on.line((x, y), (x + level, y), pen="medium")
    on.line((x, y), (x, y - upright), pen="medium")
    for end in (x, x + level):
        on.line((end, y - 1), (end, y + 1), pen="medium")
    for end in (y, y - upright):
        on.line((x - 1, end), (x + 1, end), pen="medium")
    if width < 100:
        on.text((x + 2, y - 1.5), f"{level:g} and {upright:g} mm", size=LEAST_TYPE * PT / on.text_height)
        return
    right, down = (format_length(shift, style) for shift in (sheet.shift_right, sheet.shift_down))
    lift = 1.6 * on.text_height
    on.cleared((x + 4, y - 3 - lift), f"Level bar {level:g} mm, upright bar {upright:g} mm: print at 100 %.")
    on.cleared((x + 4, y - 3), f"Shifted {right} to the right, {down} downwards.")


def _corner(sheet: LabelSheet, place: int) -> tuple[float, float]:
    x, y = sheet.corner(place)
    return float(x + sheet.shift_right), float(y + sheet.shift_down)
