"""The passes that cut the curve: how many, how far apart, how deep, and where they are marked on the formers."""

from __future__ import annotations

from geometry.explained.blank import end_of_blank, take_blank_width
from geometry.explained.fretboard import radius_at
from geometry.explained.sheet import OWN, Explanation, Figure, Sheet, figure
from geometry.passes import cutting_minutes
from geometry.request import Former, Request
from geometry.result import Pass, Result

PASSES = "Passes"
ODD = "Always an odd number, so that one pass lies on the apex and proves the depth."


def _flat(s: Sheet) -> bool:
    return s.asked.board.radius is None


def _radii(s: Sheet) -> None:
    """Work out the smallest and the largest radius on the blank."""
    radius = s.asked.board.radius
    if radius.nut == radius.heel:
        radius_at(s, "R_min", "x_e")
        s.step("R_max", "R_min", "The largest radius on the blank: the same")
        return
    for end, symbol in (("head", "R_1"), ("heel", "R_2")):
        end_of_blank(s, end)
        radius_at(s, symbol, "x_e")
        place = s.steps.pop("x_e")
        s.steps[f"x_{end[-1]}"] = type(place)(f"x_{end[-1]}", place.expression, place.words, place.value, place.kind)
        old = s.steps.pop(symbol)
        s.step(symbol, old.expression.replace("x_e", f"x_{end[-1]}"), f"Radius at the {end} end of the blank")
    s.step("R_min", "min(R_1, R_2)", "The smallest radius on the blank")
    s.step("R_max", "max(R_1, R_2)", "The largest radius on the blank")


def _reach(s: Sheet) -> None:
    _radii(s)
    take_blank_width(s)
    s.step("theta", "asin(W_b / (2 * R_min))", "To the edge of the blank, where the radius is least", "angle")


def _count(s: Sheet) -> None:
    s.take("D", s.asked.cutter.diameter, "Cutter", "cutter")
    s.source = OWN
    if _flat(s):
        take_blank_width(s)
        s.step("n", "next_odd(W_b / D)", "Parallel strokes side by side", "count")
        return
    _reach(s)
    s.take("h", s.asked.scallop_max, "Highest step between passes", "habits", "fine")
    s.step("delta_m", "2 * atan(min(D / 2, sqrt(h * (2 * R_max + h))) / R_max)",
           "The widest step: facets must meet, and the ridge must not stand too high", "angle")  # fmt: skip
    s.step("n", "next_odd(2 * theta / delta_m)", "The fewest passes that do", "count")


@figure("passes", "Passes", PASSES, "How many passes does it take?",
        lambda r, n: r.passes.count if r.passes else None, "count")  # fmt: skip
def _passes(s: Sheet, _: int) -> None:
    _count(s)
    s.method = ODD


def _take_count(s: Sheet) -> None:
    s.take("n", s.found.passes.count, "Passes", "figure:passes", "count")


def _curved(value: str) -> object:
    return lambda r, n: getattr(r.passes, value) if r.passes and r.passes.half_angle_deg else None


@figure("reach", "Reach to each side", PASSES, "How far round does the fan of passes go?",
        _curved("half_angle_deg"), "angle")  # fmt: skip
def _half_angle(s: Sheet, _: int) -> None:
    _reach(s)


@figure("pass-step", "Step from pass to pass", PASSES, "How far apart are the passes?", _curved("step_deg"), "angle")
def _step(s: Sheet, _: int) -> None:
    _take_count(s)
    _reach(s)
    s.step("delta", "2 * theta / n", "The whole fan, shared out evenly", "angle")


def _take_step(s: Sheet) -> None:
    s.take("delta", s.found.passes.step_deg, "Step from pass to pass", "figure:pass-step", "angle")


@figure("scallop", "Ridges between passes", PASSES, "How high do the ridges between the passes stand?",
        _curved("scallop"), "fine")  # fmt: skip
def _scallop(s: Sheet, _: int) -> None:
    _take_step(s)
    _radii(s)
    s.step("h_r", "R_max * (1 / cos(delta / 2) - 1)", "Two flat facets meet this far above the circle", "fine")


def _bite(s: Sheet) -> None:
    """Work out what is taken off the middle: ``a``."""
    read = s.measured
    if s.found.rests is None:
        s.take("a", s.asked.allowances.skim, "Taken off the middle", "allowance")
        return
    s.take("t_r", s.found.thickness.before_radiusing, "Before radiusing, at the thinner end", "figure:before")
    s.take("t_a", s.found.thickness.after_radiusing, "After radiusing", "figure:after")
    ends = [(name, value) for name in ("head", "heel") if (value := getattr(read, name)) is not None]
    if read.at_most is not None and read.slot_depth is None:
        ends = [(name, min(value, read.at_most)) for name, value in ends]
    if len({value for _, value in ends}) > 1:
        for (name, value), symbol in zip(ends, ("t_1", "t_2"), strict=True):
            s.take(symbol, value, f"Thickness at the {name}", f"reading:{name}")
        s.step("a", "t_r - t_a + abs(t_1 - t_2)", "Taken off the middle, at the thicker end")
    else:
        s.step("a", "t_r - t_a", "Taken off the middle")


def _at(s: Sheet, number: int) -> None:
    s.take("k", number, "Pass, counted from the apex", "place", "count")


@figure("pass-depth", "Depth of cut", PASSES, "How deep does this pass cut?",
        lambda r, n: _pass(r, n).depth if r.passes else None, per="pass")  # fmt: skip
def _depth(s: Sheet, number: int) -> None:
    _bite(s)
    if _flat(s):
        s.step("b_k", "a", "Every stroke takes the same")
        return
    _at(s, number)
    _take_step(s)
    _reach(s)
    s.step("b_k", "a + R_min * (1 - cos(min((abs(k) + 1 / 2) * delta, theta)))",
           "What the middle takes, and what the curve drops by to the outer side of the facet")  # fmt: skip


def _pass(found: Result, number: int) -> Pass:
    return found.passes.list[number - found.passes.list[0].number]


@figure("levels", "Depths to go round in", PASSES, "In how many depths must the fan be gone round?",
        lambda r, n: r.passes.depth_levels if r.passes else None, "count")  # fmt: skip
def _levels(s: Sheet, _: int) -> None:
    last = s.found.passes.list[-1]
    s.take("b", last.depth, "The outermost pass cuts deepest", f"figure:pass-depth:{last.number}")
    s.take("b_m", s.asked.cutter.max_depth, "The cutter bites at most", "cutter")
    s.step("j", "round_up(b / b_m)", "So that no bite is deeper than it may be", "count")


def _former(s: Sheet, end: str) -> Former:
    name = getattr(s.found.setup, f"{end}_former")
    return next(former for former in s.asked.formers if former.name == name)


def _marks(end: str) -> None:
    for way, title in (("arc", "along the arc"), ("square", "square across")):

        @figure(f"mark-{end}-{way}", f"Mark at the {end}, {title}", PASSES,
                f"Where is this pass marked on the {end} former, {title}?",
                lambda r, n, way=way: getattr(_pass(r, n), f"{end}_{way}") if r.passes else None,
                per="pass")  # fmt: skip
        def _mark(s: Sheet, number: int, way: str = way) -> None:
            _at(s, number)
            if _flat(s):
                take_blank_width(s)
                _take_count(s)
                s.step("u", "k * W_b / n", "Strokes side by side, from the centreline")
                return
            former = _former(s, end)
            _take_step(s)
            s.take("R_f", former.radius, f"Radius of former {former.name}", f"former:{former.name}")
            s.step("theta_k", "k * delta", "Angle of the pass", "angle")
            if way == "arc":
                s.step("u", "R_f * pi * theta_k / 180", "From the former's centreline, along the arc")
            else:
                s.step("u", "R_f * sin(theta_k)", "From the former's centreline, square across")


for _end in ("head", "heel"):
    _marks(_end)


def minutes_on_sheet(s: Sheet, feed: float) -> float:
    """Work out on a sheet how long the cutter is in the wood, by the shop's feed in mm each minute."""
    passes = s.found.passes
    _take_count(s)
    s.take("j", passes.depth_levels, "Depths to go round in", "figure:levels", "count")
    s.take("l", s.asked.blank.length, "Length of the blank", "blank")
    s.take("f", feed, "Feed along the board, each minute", "habits")
    s.step("m", "n * j * l / f", "Every pass once at each depth", "minutes")
    return float(cutting_minutes(passes.count, passes.depth_levels, s.asked.blank.length, feed))


def minutes_figure(asked: Request, found: Result, feed: float) -> Explanation | None:
    """Explain the minutes that the cutter is in the wood; None where nothing is cut, or no blank is there."""
    if found.passes is None or asked.blank is None:
        return None
    sheet = Sheet(asked, found)
    value = minutes_on_sheet(sheet, feed)
    kept = Figure(
        "minutes", "Minutes of cutting", PASSES, "How long is the cutter in the wood?", lambda s, n: None,
        lambda r, n: value, "minutes",
    )  # fmt: skip
    inputs, steps = tuple(sheet.inputs.values()), tuple(sheet.steps.values())
    return Explanation(kept, None, inputs, steps, "Common practice: strokes times their length, by the feed.", "")
