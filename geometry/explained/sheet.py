"""The sheet on which one figure is worked out: what is taken, what is reckoned from it, and from where it was taken."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Final, Literal

from geometry.explained.expression import evaluate
from geometry.measured import AsMeasured
from geometry.request import Request, TwoScales
from geometry.result import Result

# How a figure is written: a length; a small length, finer; an angle in degrees; a share in percent; how many; bare.
Kind = Literal["length", "fine", "angle", "percent", "count", "number", "minutes", "celsius"]

EQUAL_TEMPERAMENT: Final = "Equal temperament: each fret divides the string by the twelfth root of 2."
SEGMENT: Final = "The circle's segment (Machinery's Handbook, Segments of a Circle)."
STRAIGHT: Final = "A straight line between two ends."
ADDING: Final = "Adding up, from the finished board backwards."
OWN: Final = "Own derivation."
HANDBOOK: Final = "Wood Handbook, FPL-GTR-190"

GROUPS: Final = (
    "Along the board",
    "Across the board",
    "Thickness",
    "Slots",
    "The blank",
    "Passes",
    "The jig",
    "Wood and air",
)


@dataclass(frozen=True, slots=True)
class Input:
    """A number that is taken as it is. ``source`` says from where: ``spec``, ``reading:head``, ``figure:web``, …."""

    symbol: str
    value: float
    words: str
    source: str
    kind: Kind = "length"


@dataclass(frozen=True, slots=True)
class Step:
    """A number that is reckoned: its symbol, the expression, and what came out."""

    symbol: str
    expression: str
    words: str
    value: float
    kind: Kind = "length"


@dataclass(frozen=True, slots=True)
class Explanation:
    """How one figure was worked out; its last step is the figure itself.

    ``at`` is the fret or the pass, where there are many. ``method`` says in words what no equation says.
    """

    figure: Figure
    at: int | None
    inputs: tuple[Input, ...]
    steps: tuple[Step, ...]
    source: str
    method: str

    @property
    def value(self) -> float:
        """The figure."""
        return self.steps[-1].value

    @property
    def values(self) -> dict[str, float]:
        """All numbers by their symbols."""
        return {each.symbol: each.value for each in (*self.inputs, *self.steps)}

    @property
    def kinds(self) -> dict[str, Kind]:
        """How each of them is written."""
        return {each.symbol: each.kind for each in (*self.inputs, *self.steps)}


@dataclass(slots=True)
class Sheet:
    """A figure while it is being worked out."""

    asked: Request
    found: Result
    inputs: dict[str, Input] = field(default_factory=dict)
    steps: dict[str, Step] = field(default_factory=dict)
    source: str = OWN
    method: str = ""

    def take(self, symbol: str, value: float, words: str, source: str, kind: Kind = "length") -> float:
        """Take a number as it is."""
        self.inputs[symbol] = Input(symbol, float(value), words, source, kind)
        return float(value)

    def step(self, symbol: str, expression: str, words: str, kind: Kind = "length") -> float:
        """Reckon a number from those that are there."""
        if symbol in self.inputs or (symbol in self.steps and self.steps[symbol].expression != expression):
            raise ValueError(f"{symbol} stands for something else on this sheet.")
        known = {each.symbol: each.value for each in (*self.inputs.values(), *self.steps.values())}
        self.steps[symbol] = Step(symbol, expression, words, evaluate(expression, known), kind)
        return self.steps[symbol].value

    @property
    def measured(self) -> AsMeasured:
        """What was read of the board; nothing where nothing was."""
        return self.found.rests.measured if self.found.rests else AsMeasured()

    @property
    def fanned(self) -> TwoScales | None:
        """Its two scale lengths, where it has two."""
        scale = self.asked.board.scale
        return scale if isinstance(scale, TwoScales) else None

    def read(self, symbol: str, name: str, words: str) -> float:
        """Take a figure that was read of the board, or that follows from its log."""
        how = "read" if self.measured.was_read(name) else "by the log"
        return self.take(symbol, getattr(self.measured, name), f"{words}, {how}", f"reading:{name}")


Work = Callable[[Sheet, int], None]
Answer = Callable[[Result, int], float | None]


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure that can be asked how it was worked out."""

    key: str
    title: str
    group: str
    question: str
    work: Work
    answer: Answer
    kind: Kind = "length"
    per: Literal["", "fret", "pass", "end"] = ""


FIGURES: Final[dict[str, Figure]] = {}


def figure(
    key: str,
    title: str,
    group: str,
    question: str,
    answer: Answer,
    kind: Kind = "length",
    per: Literal["", "fret", "pass", "end"] = "",
) -> Callable[[Work], Work]:
    """Say of which figure a function works out the sheet."""

    def note(work: Work) -> Work:
        FIGURES[key] = Figure(key, title, group, question, work, answer, kind, per)
        return work

    return note


def places_of(each: Figure, found: Result) -> list[int]:
    """List the frets or passes of a board at which there is such a figure; one place where it has no many."""
    match each.per:
        case "fret":
            places = [fret.fret for fret in found.board.frets]
        case "pass":
            places = [one.number for one in found.passes.list] if found.passes else []
        case _:
            places = [0]
    return [place for place in places if each.answer(found, place) is not None]


def figures_of(found: Result) -> Iterator[tuple[Figure, list[int]]]:
    """Go through the figures that a board has, each with the places at which it has them."""
    for group in GROUPS:
        for each in FIGURES.values():
            if each.group == group and (places := places_of(each, found)):
                yield each, places


def explain(key: str, asked: Request, found: Result, at: int | None = None) -> Explanation | None:
    """Work out one figure again, step by step.

    Parameters
    ----------
    key : str
        Name of the figure, one of `FIGURES`.
    asked, found : Request and Result
        What was asked of `geometry.workout`, and what it answered.
    at : int, optional
        The fret or the pass; the last of them where it is left out.

    Returns
    -------
    Explanation or None
        None where the board has no such figure.
    """
    each = FIGURES[key]
    places = places_of(each, found)
    if not places or (at is not None and at not in places):
        return None
    place = places[-1] if at is None else at
    sheet = Sheet(asked, found)
    each.work(sheet, place)
    inputs, steps = tuple(sheet.inputs.values()), tuple(sheet.steps.values())
    return Explanation(each, place if each.per else None, inputs, steps, sheet.source, sheet.method)
