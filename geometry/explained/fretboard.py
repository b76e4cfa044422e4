"""Where the frets lie, how long and wide the board is, and how it curves across."""

from __future__ import annotations

from geometry.explained.sheet import EQUAL_TEMPERAMENT, OWN, SEGMENT, STRAIGHT, Sheet, figure

ALONG, ACROSS = "Along the board", "Across the board"
FAN = "Own derivation: each fret is the straight line through its places on the two outer strings."


def take_length(s: Sheet) -> None:
    """Take the board's length, which has an explanation of its own."""
    s.take("B", s.found.board.length, "Board, nut face to heel", "figure:board-length")


def take_scale(s: Sheet) -> None:
    """Take the scale length of a board that has one."""
    s.take("L", s.asked.board.scale, "Scale length", "spec")


def take_widths(s: Sheet) -> None:
    """Take the widths at the two ends."""
    s.take("W_n", s.asked.board.nut_width, "Width at the nut", "spec")
    s.take("W_h", s.asked.board.heel_width, "Width at the heel", "spec")


def lay_line(s: Sheet, fret: int) -> None:
    """Lay one fret of a fanned board: its places on the two outer strings, and how they lie to one another."""
    scale = s.fanned
    take_widths(s)
    take_length(s)
    s.take("L_b", scale.bass, "Scale length, bass side", "spec")
    s.take("L_t", scale.treble, "Scale length, treble side", "spec")
    s.take("p", scale.square_fret, "Square fret", "spec", "count")
    s.take("i", scale.inset, "Outer strings from the edges", "spec")
    s.take("n", fret, "Fret", "place", "count")
    s.step("k", "(W_h - W_n) / B", "The board grows wider by this for each mm", "number")
    s.step("q", "1 / sqrt(1 + (k / 2) ** 2)", "The strings lean with the edges: their cosine", "number")
    s.step("e", "(L_t - L_b) * (1 - 2 ** (-p / 12)) * q / 2", "The nut on the bass string, so that fret p is square")
    s.step("x_b", "e + L_b * (1 - 2 ** (-n / 12)) * q", "The fret on the bass string")
    s.step("x_t", "-e + L_t * (1 - 2 ** (-n / 12)) * q", "The fret on the treble string")
    s.step("a", "W_n + k * (x_b + x_t) / 2 - 2 * i", "Across, from string to string")
    s.source = FAN


def carry_to_edges(s: Sheet) -> None:
    """Carry a fanned fret on to the edges."""
    s.step("x_1", "x_b - (x_t - x_b) * i / (a + k * (x_t - x_b) / 2)", "Where it meets the bass edge")
    s.step(
        "x_2",
        "x_b + (x_t - x_b) * (W_n + k * x_b - i) / (a - k * (x_t - x_b) / 2)",
        "Where it meets the treble edge",
    )


def take_place(s: Sheet, fret: int) -> None:
    """Take the place of a fret on the centreline."""
    s.take("x", s.found.board.frets[fret].from_nut, f"{_name(fret)}, from the nut face", f"figure:fret:{fret}")


def _name(fret: int) -> str:
    return f"Fret {fret}" if fret else "The nut"


def surface(s: Sheet, mark: str = "") -> None:
    """Work out width, radius and sagitta at a place ``x`` along the board; ``mark`` tells two places apart."""
    x, width, radius, drop = (f"{name}_{mark}" if mark else name for name in ("x", "W", "R", "s"))
    take_widths(s)
    take_length(s)
    s.step(width, f"W_n + (W_h - W_n) * {x} / B", "Width there")
    if s.asked.board.radius is None:
        s.step(drop, "0 * " + width, "A flat board is as high at its edge as in its middle", "fine")
        return
    radius_at(s, radius, x)
    s.step(drop, f"{radius} - sqrt({radius} ** 2 - ({width} / 2) ** 2)", "Sagitta: edge lower than middle", "fine")


def radius_at(s: Sheet, symbol: str, x: str) -> None:
    """Work out the radius at a place along the board, or beyond its ends."""
    radius = s.asked.board.radius
    s.take("R_n", radius.nut, "Radius at the nut", "spec")
    if radius.nut == radius.heel:
        s.step(symbol, "R_n", "Radius there: the same all along")
        return
    take_length(s)
    s.take("R_h", radius.heel, "Radius at the heel", "spec")
    s.step(symbol, f"R_n + (R_h - R_n) * {x} / B", "Radius there")


def at_fret(s: Sheet, fret: int) -> None:
    """Work out how much lower the board's edge is at a fret; at the lower of both ends of a fanned one: ``s``."""
    line = s.found.board.frets[fret]
    if not s.fanned:
        take_place(s, fret)
        surface(s)
        return
    s.take("x_1", line.bass[0], f"{_name(fret)} at the bass edge, from the nut face", f"figure:bass:{fret}")
    s.take("x_2", line.treble[0], f"{_name(fret)} at the treble edge", f"figure:treble:{fret}")
    surface(s, "1")
    surface(s, "2")
    s.step("s", "max(s_1, s_2)", "The lower of its two ends counts", "fine")


@figure("fret", "Fret from the nut", ALONG, "How far is the fret from the nut face?",
        lambda r, n: r.board.frets[n].from_nut if n else None, per="fret")  # fmt: skip
def _fret(s: Sheet, fret: int) -> None:
    if s.fanned:
        lay_line(s, fret)
        s.step("d", "x_b + (x_t - x_b) * ((W_n + k * x_b) / 2 - i) / a", "Where it crosses the centreline")
        return
    take_scale(s)
    s.take("n", fret, "Fret", "place", "count")
    s.step("d", "L * (1 - 2 ** (-n / 12))", "From the nut face")
    s.source = EQUAL_TEMPERAMENT


@figure("fret-gap", "Fret from the last", ALONG, "How far is the fret from the one before it?",
        lambda r, n: r.board.frets[n].from_previous if n else None, per="fret")  # fmt: skip
def _gap(s: Sheet, fret: int) -> None:
    if s.fanned:
        before = s.found.board.frets[fret - 1].from_nut
        s.take("d_1", before, f"{_name(fret - 1)}, from the nut face", f"figure:fret:{fret - 1}")
        s.take("d_2", s.found.board.frets[fret].from_nut, f"Fret {fret}, from the nut face", f"figure:fret:{fret}")
        s.step("g", "d_2 - d_1", "From the last fret, on the centreline")
        return
    take_scale(s)
    s.take("n", fret, "Fret", "place", "count")
    s.step("g", "L * (2 ** (-(n - 1) / 12) - 2 ** (-n / 12))", "From the last fret")
    s.source = EQUAL_TEMPERAMENT


@figure("bass", "Fret at the bass edge", ALONG, "Where does the fret meet the bass edge?",
        lambda r, n: r.board.frets[n].bass[0] if r.board.frets[n].bass[0] != r.board.frets[n].treble[0] else None,
        per="fret")  # fmt: skip
def _bass(s: Sheet, fret: int) -> None:
    lay_line(s, fret)
    s.step("x_1", "x_b - (x_t - x_b) * i / (a + k * (x_t - x_b) / 2)", "Where it meets the bass edge")


@figure("treble", "Fret at the treble edge", ALONG, "Where does the fret meet the treble edge?",
        lambda r, n: r.board.frets[n].treble[0] if r.board.frets[n].bass[0] != r.board.frets[n].treble[0] else None,
        per="fret")  # fmt: skip
def _treble(s: Sheet, fret: int) -> None:
    lay_line(s, fret)
    s.step(
        "x_2",
        "x_b + (x_t - x_b) * (W_n + k * x_b - i) / (a - k * (x_t - x_b) / 2)",
        "Where it meets the treble edge",
    )


@figure("board-length", "Board, nut face to heel", ALONG, "How long is the board from the nut face to its heel?",
        lambda r, n: r.board.length)  # fmt: skip
def _length(s: Sheet, _: int) -> None:
    last = s.asked.board.frets
    s.take("o", s.asked.board.overhang, "Overhang beyond the last fret", "spec")
    if s.fanned:
        line = s.found.board.frets[last]
        s.take("x_1", line.bass[0], f"Fret {last} at the bass edge", f"figure:bass:{last}")
        s.take("x_2", line.treble[0], f"Fret {last} at the treble edge", f"figure:treble:{last}")
        s.step("B", "max(x_1, x_2) + o", "Nut face to heel")
        s.source = FAN
        s.method = (
            "The length sets the taper, the taper the lean of the strings, and the lean the place of the last fret, "
            "from which the length follows: this is gone round until it stands still."
        )
        return
    take_scale(s)
    s.take("n", last, "The last fret", "spec", "count")
    s.step("B", "L * (1 - 2 ** (-n / 12)) + o", "Nut face to heel")
    s.source = EQUAL_TEMPERAMENT


def head_end(s: Sheet) -> None:
    """Work out where the finished board ends beyond the nut: ``x_0``, 0 or less."""
    s.take("b", s.asked.board.nut_ledge, "Nut ledge", "spec")
    if not s.fanned:
        s.step("x_0", "-b", "The board's head end, from the nut face")
        return
    nut = s.found.board.frets[0]
    s.take("x_3", nut.bass[0], "The nut at the bass edge", "figure:bass:0")
    s.take("x_4", nut.treble[0], "The nut at the treble edge", "figure:treble:0")
    s.step("x_0", "min(0, x_3, x_4) - b", "The board's head end, from the nut face")


@figure("overall", "Board, overall", ALONG, "How long is the board with its nut ledge?", lambda r, n: r.board.overall)
def _overall(s: Sheet, _: int) -> None:
    take_length(s)
    head_end(s)
    s.step("A", "B - x_0", "From end to end")


@figure("width", "Width", ACROSS, "How wide is the board at the fret?", lambda r, n: r.board.frets[n].width, per="fret")
def _width(s: Sheet, fret: int) -> None:
    take_place(s, fret)
    take_widths(s)
    take_length(s)
    s.step("W", "W_n + (W_h - W_n) * x / B", "Width on the centreline's crossing")
    s.source = STRAIGHT


@figure("radius", "Radius", ACROSS, "Which radius has the board at the fret?",
        lambda r, n: r.board.frets[n].radius, per="fret")  # fmt: skip
def _radius(s: Sheet, fret: int) -> None:
    take_place(s, fret)
    radius_at(s, "R", "x")
    s.source = "The radius grows evenly from nut to heel: a cone, or with equal ends a cylinder."


@figure("sagitta", "Sagitta", ACROSS, "How much lower is the edge than the middle at the fret?",
        lambda r, n: r.board.frets[n].sagitta, "fine", "fret")  # fmt: skip
def _sagitta(s: Sheet, fret: int) -> None:
    take_place(s, fret)
    surface(s)
    s.source = SEGMENT


@figure("edge", "Edge, finished", ACROSS, "How thick is the finished edge at the fret?",
        lambda r, n: r.board.frets[n].edge_thickness, per="fret")  # fmt: skip
def _edge(s: Sheet, fret: int) -> None:
    s.take("t_f", s.found.thickness.finished, "Finished thickness on the centreline", "figure:finished")
    at_fret(s, fret)
    s.step("t_e", "t_f - s", "Thickness of the edge")
    s.source = SEGMENT if not s.fanned else OWN
