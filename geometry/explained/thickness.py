"""The thickness ledger: from the finished board back to the blank, and what readings put in the place of the plan."""

from __future__ import annotations

from geometry.explained.sheet import ADDING, Sheet, figure

THICKNESS = "Thickness"
GIVES = "What was read stands in the place of what was planned: wood that is gone is taken from the sanding first."


def take_wanted(s: Sheet, symbol: str = "t_w") -> None:
    """Take the finished thickness that the spec wants."""
    s.take(symbol, s.asked.board.thickness, "Finished thickness wanted", "spec")


def take_finished(s: Sheet) -> None:
    """Take the finished thickness, as it will be."""
    s.take("t_f", s.found.thickness.finished, "Finished thickness", "figure:finished")


def take_after(s: Sheet) -> None:
    """Take the thickness after radiusing."""
    s.take("t_a", s.found.thickness.after_radiusing, "Thickness after radiusing", "figure:after")


def planned_before(s: Sheet, symbol: str = "t_p") -> None:
    """Work out the thickness before radiusing as planned."""
    allow = s.asked.allowances
    take_wanted(s)
    s.take("a_s", allow.sanding, "Left for sanding", "allowance")
    s.take("a_k", allow.skim, "Taken off the middle when radiusing", "allowance")
    s.step(symbol, "t_w + a_s + a_k", "Before radiusing, as planned")


def thinner_end(s: Sheet) -> None:
    """Work out the thickness of the thinner end before radiusing, with what was read: ``t``."""
    read, terms = s.measured, []
    for name, symbol in (("head", "t_1"), ("heel", "t_2")):
        if getattr(read, name) is not None:
            s.read(symbol, name, f"Thickness at the {name}")
            terms.append(symbol)
    if not terms:
        planned_before(s)
        terms.append("t_p")
    if read.at_most is not None and read.slot_depth is None:
        terms.append(_take_at_most(s))
    s.step("t", f"min({', '.join(terms)})" if len(terms) > 1 else terms[0], "The thinner end counts")


def _take_at_most(s: Sheet) -> str:
    s.read("t_m", "at_most", "Thickness of the middle, where a cut has to be made again")
    return "t_m"


@figure("finished", "Finished", THICKNESS, "How thick will the finished board be on its centreline?",
        lambda r, n: r.thickness.finished)  # fmt: skip
def _finished(s: Sheet, _: int) -> None:
    if s.found.rests is None:
        take_wanted(s)
        s.step("t_f", "t_w", "As the spec wants it")
        s.source = "The spec."
        return
    take_wanted(s)
    take_after(s)
    s.step("t_f", "min(t_w, t_a)", "No thicker than what radiusing leaves")
    s.source, s.method = ADDING, GIVES


@figure("after", "After radiusing", THICKNESS, "How thick is the board on its centreline once it is radiused?",
        lambda r, n: r.thickness.after_radiusing)  # fmt: skip
def _after(s: Sheet, _: int) -> None:
    s.source = ADDING
    read = s.measured
    if read.centre is not None:
        s.read("c", "centre", "Thickness on the centreline")
        s.step("t_a", "c", "As it was read")
        s.method = "It was read once the board was radiused: that counts, whatever was planned."
        return
    take_wanted(s)
    s.take("a_s", s.asked.allowances.sanding, "Left for sanding", "allowance")
    if read.head is None and read.heel is None and read.at_most is None:
        s.step("t_a", "t_w + a_s", "After radiusing")
        return
    thinner_end(s)
    capped = read.at_most is not None
    if capped:
        _take_at_most(s)
    s.step("t_a", f"min(t_w + a_s, t{', t_m' if capped else ''})", "As planned, or as thick as the thinner end is")
    s.method = GIVES


@figure("before", "Before radiusing", THICKNESS, "How thick is the board when it comes to the radius?",
        lambda r, n: r.thickness.before_radiusing)  # fmt: skip
def _before(s: Sheet, _: int) -> None:
    s.source = ADDING
    read = s.measured
    if s.found.rests is None:
        take_after(s)
        s.take("a_k", s.asked.allowances.skim, "Taken off the middle when radiusing", "allowance")
        s.step("t_r", "t_a + a_k", "Before radiusing")
        return
    take_after(s)
    thinner_end(s)
    if read.at_most is not None and read.centre is None:
        _take_at_most(s)
        s.step("t_r", "max(min(t, t_m), t_a)", "The thinner end, as it is by now")
    else:
        s.step("t_r", "max(t, t_a)", "The thinner end, as it is by now")
    s.method = GIVES


def intake(s: Sheet, symbol: str) -> None:
    """Work out the least thickness that a blank must come in with, as planned."""
    planned_before(s)
    s.take("f", s.asked.allowances.flatten, "Taken off each face to flatten it", "allowance")
    s.step(symbol, "t_p + 2 * f", "Both faces are flattened")
    s.source = ADDING


@figure("intake", "Least at intake", THICKNESS, "How thick must the blank be when it comes in?",
        lambda r, n: r.thickness.intake_min)  # fmt: skip
def _intake(s: Sheet, _: int) -> None:
    intake(s, "t_i" if s.found.rests is None else "t_q")
    if s.found.rests is not None:
        s.take("t_r", s.found.thickness.before_radiusing, "Thickness before radiusing, by now", "figure:before")
        s.step("t_i", "max(t_q, t_r)", "It was no thinner than it is now")
