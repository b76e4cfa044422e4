"""The figures of many blanks in one go."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from django.utils import timezone

from boards.drying import InTheAir
from boards.models import Blank, LogEntry
from boards.models.measured import measured_before
from boards.settled import Settledness
from geometry.blocks import choose_block
from geometry.errors import GeometryError
from geometry.request import Request
from geometry.result import Result
from geometry.units import LengthStyle
from geometry.workout import work_out_each
from shop.models import RadiusBy, SandingBlock, Shop

RESTING = {
    "before": "before radiusing",
    "slots": "slot depth",
    "web": "least web",
    "after": "after radiusing, with the corners",
    "finished": "finished",
}


@dataclass(frozen=True, slots=True)
class BlockChoice:
    """The sanding block for a board, and how far it leaves the board's edge off at worst, in mm."""

    block: SandingBlock
    error: float


@dataclass(frozen=True, slots=True)
class Worked:
    """A blank with what was asked about it and what geometry answered; without figures, why there are none.

    ``jig_trouble`` says why the jig in use cannot cut it, where all the rest is worked out. The figures rest on what
    was read of the blank so far; ``result.rests`` says which, and `rests_on` in words.
    """

    blank: Blank
    request: Request | None = None
    result: Result | None = None
    trouble: str = ""
    jig_trouble: str = ""
    block: BlockChoice | None = None
    style: LengthStyle = LengthStyle.MM
    log: Sequence[LogEntry] = ()
    settled: Settledness | None = None

    @property
    def too_early(self) -> str:
        """Say that its wood has not settled, where its first cut is still to come."""
        warnings = self.result.warnings if self.result and not self.blank.done else ()
        return next((warning.message for warning in warnings if warning.code == "not-settled"), "")

    @property
    def moisture_in_passing(self) -> str:
        """Say the same in a few words, where room is short."""
        return f"Moisture {self.settled.state.label}." if self.settled and self.too_early else ""

    def rests_on(self, figure: str) -> str:
        """Say which readings a figure rests on, by its name in `geometry.measured.Rests`; nothing where planned."""
        rests = self.result.rests if self.result else None
        return rests.words(figure, self.style) if rests else ""

    @property
    def basis(self) -> list[str]:
        """Say which figures rest on readings, those with the same ones together."""
        said: dict[str, list[str]] = {}
        for figure, name in RESTING.items():
            if words := self.rests_on(figure):
                said.setdefault(words, []).append(name)
        return [f"{', '.join(names).capitalize()}: {words[:1].lower()}{words[1:]}" for words, names in said.items()]

    def at(self, stage: str) -> Result | None:
        """Give the figures as they were when the blank came to a stage that is done: later readings are not in them."""
        if self.result is None or self.result.rests is None or stage not in self.blank.done:
            return self.result
        read = measured_before(self.log, self.blank.done, stage, self.blank.thickness)
        (then,) = work_out_each([self.request], self.style, measured=[read])
        return self.result if isinstance(then, GeometryError) else then


def worked(blank: Blank, shop: Shop, *, as_planned: bool = False) -> Worked:
    """Work out one blank."""
    return worked_many([blank], shop, as_planned=as_planned)[0]


def worked_many(blanks: Iterable[Blank], shop: Shop, *, as_planned: bool = False) -> list[Worked]:
    """Work out blanks in their order, in one call to geometry.

    What was read of them so far stands in the place of what was planned, unless they are wanted ``as_planned``: that
    needs no log, and no air.
    """
    blanks = list(blanks)
    asked = {place: blank.as_request(shop) for place, blank in enumerate(blanks) if blank.spec}
    air = None if as_planned else InTheAir.of([blanks[place] for place in asked], shop, today=timezone.localdate())
    if air:
        asked = {place: air.ask(blanks[place], request) for place, request in asked.items()}
    logs = {} if as_planned else _logs_of(blanks[place] for place in asked)
    read = {place: blanks[place].as_measured(logs.get(blanks[place].pk, ())) for place in asked}
    found = work_out_each(list(asked.values()), shop.style, shop.standing, list(read.values()))
    answers = dict(zip(asked, found, strict=True))
    jig_trouble = {}
    for place in [place for place, answer in answers.items() if _is_of_the_jig(answer)]:
        # What this jig cannot cut can still be thicknessed, slotted and glued: the rest of the figures stands.
        jig_trouble[place] = answers[place].words
        asked[place] = replace(asked[place], jig=None, formers=())
        answers[place] = work_out_each([asked[place]], shop.style, measured=[read[place]])[0]
    boards = []
    for place, blank in enumerate(blanks):
        request, answer = asked.get(place), answers.get(place)
        if isinstance(answer, GeometryError):
            boards.append(Worked(blank, request, trouble=answer.words, style=shop.style))
        else:
            answer = air.answer(blank, answer) if air and answer else answer
            block = _block_for(blank, request, shop) if request else None
            trouble = jig_trouble.get(place, "")
            log = tuple(logs.get(blank.pk, ()))
            settled = air.known.get(blank.pk) if air else None
            boards.append(Worked(blank, request, answer, "", trouble, block, shop.style, log, settled))
    return boards


def _logs_of(blanks: Iterable[Blank]) -> dict[int, list[LogEntry]]:
    """Fetch the logs of blanks in one query; they are kept with no blank, whose log may grow."""
    logs: dict[int, list[LogEntry]] = {}
    for entry in LogEntry.objects.filter(blank__in=list(blanks)).order_by("blank", "number"):
        logs.setdefault(entry.blank_id, []).append(entry)
    return logs


def _is_of_the_jig(answer: Result | GeometryError) -> bool:
    fields = [problem.field for problem in answer.problems] if isinstance(answer, GeometryError) else []
    return bool(fields) and all(field.startswith(("jig", "formers")) for field in fields)


def _block_for(blank: Blank, request: Request, shop: Shop) -> BlockChoice | None:
    if blank.spec.radius_by != RadiusBy.BLOCK or not blank.waits_for("radiusing"):
        return None
    radii = [math.inf if block.radius is None else float(block.radius) for block in shop.blocks]
    choice = choose_block(radii, request.board) if radii else None
    return BlockChoice(shop.blocks[choice[0]], choice[1]) if choice else None
