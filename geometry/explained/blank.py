"""What the blank must measure, what it has to spare, and what its corners come to."""

from __future__ import annotations

from geometry.explained.fretboard import head_end, radius_at, take_length, take_widths
from geometry.explained.sheet import ADDING, SEGMENT, STRAIGHT, Sheet, figure
from geometry.explained.thickness import intake, take_after

BLANK = "The blank"
TO_SPARE = "A negative figure is short."


def take_blank_length(s: Sheet) -> None:
    """Take the length of the blank as measured, or of the smallest that will do."""
    if s.asked.blank:
        s.take("l", s.asked.blank.length, "Length of the blank", "blank")
    else:
        s.take("l", s.found.blank_needed.length, "Length of the blank needed", "figure:blank-length")


def take_blank_width(s: Sheet) -> None:
    """Take the width of the blank as measured, or of the smallest that will do."""
    if s.asked.blank:
        s.take("W_b", s.asked.blank.width, "Width of the blank", "blank")
    else:
        s.take("W_b", s.found.blank_needed.width, "Width of the blank needed", "figure:blank-width")


def end_of_blank(s: Sheet, end: str) -> None:
    """Work out where the blank ends, from the nut face: ``x_e``."""
    head_end(s)
    s.take("e", s.asked.allowances.end, "Run-out at each end", "allowance")
    if end == "head":
        s.step("x_e", "x_0 - e", "The head end of the blank, from the nut face")
    else:
        take_blank_length(s)
        s.step("x_e", "x_0 - e + l", "The heel end of the blank, from the nut face")


@figure("blank-length", "Blank, length", BLANK, "How long must the blank be?", lambda r, n: r.blank_needed.length)
def _length(s: Sheet, _: int) -> None:
    take_length(s)
    head_end(s)
    s.take("e", s.asked.allowances.end, "Run-out at each end, for tear-out", "allowance")
    s.take("p", s.asked.allowances.proving, "Strip beyond the heel for proving the depth", "allowance")
    s.step("l_n", "B - x_0 + 2 * e + p", "The board, both run-outs and the strip")
    s.source = ADDING


@figure("blank-width", "Blank, width", BLANK, "How wide must the blank be?", lambda r, n: r.blank_needed.width)
def _width(s: Sheet, _: int) -> None:
    take_widths(s)
    take_length(s)
    head_end(s)
    s.take("a_e", s.asked.allowances.edge, "Left at each edge", "allowance")
    s.step("W_0", "W_n + (W_h - W_n) * x_0 / B", "Width of the board at its head end")
    s.step("W_l", "max(W_0, W_h) + 2 * a_e", "The wider end, and waste at both edges")
    s.source = STRAIGHT


@figure("blank-thickness", "Blank, thickness", BLANK, "How thick must the blank be?",
        lambda r, n: r.blank_needed.thickness)  # fmt: skip
def _thickness(s: Sheet, _: int) -> None:
    intake(s, "t_i")


def _spare(key: str, name: str) -> None:
    @figure(f"spare-{key}", f"To spare, {key}", BLANK, f"How much {name} does the blank have to spare?",
            lambda r, n: getattr(r.blank_margin, key) if r.blank_margin else None)  # fmt: skip
    def _margin(s: Sheet, _: int) -> None:
        s.take("m", getattr(s.asked.blank, key), f"{key.capitalize()} of the blank as measured", "blank")
        s.take("m_n", getattr(s.found.blank_needed, key), f"{key.capitalize()} needed", f"figure:blank-{key}")
        s.step("m_s", "m - m_n", "What is over")
        s.source, s.method = ADDING, TO_SPARE


for _key, _name in (("length", "length"), ("width", "width"), ("thickness", "thickness")):
    _spare(_key, _name)


def _corner(end: str) -> None:
    @figure(f"corner-{end}", f"Corners at the {end}", BLANK,
            f"How thick are the corners at the {end} of the radiused, still square blank?",
            lambda r, n: getattr(r.corners, end))  # fmt: skip
    def _thick(s: Sheet, _: int) -> None:
        take_after(s)
        if s.asked.board.radius is None:
            s.step("t_c", "t_a", "A flat board is as thick at its corners")
            return
        end_of_blank(s, end)
        radius_at(s, "R", "x_e")
        take_blank_width(s)
        s.step("s", "R - sqrt(R ** 2 - (W_b / 2) ** 2)", "Sagitta over the whole width of the blank", "fine")
        s.step("t_c", "t_a - s", "Thickness of both corners")
        s.source = SEGMENT


for _end in ("head", "heel"):
    _corner(_end)
