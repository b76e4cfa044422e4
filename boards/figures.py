"""The figures of many blanks in one go."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from boards.models import Blank
from geometry.blocks import choose_block
from geometry.errors import GeometryError
from geometry.request import Request
from geometry.result import Result
from geometry.workout import work_out_each
from shop.models import RadiusBy, SandingBlock, Shop


@dataclass(frozen=True, slots=True)
class BlockChoice:
    """The sanding block for a board, and how far it leaves the board's edge off at worst, in mm."""

    block: SandingBlock
    error: float


@dataclass(frozen=True, slots=True)
class Worked:
    """A blank with what was asked about it and what geometry answered; without figures, why there are none.

    ``jig_trouble`` says why the jig in use cannot cut it, where all the rest is worked out.
    """

    blank: Blank
    request: Request | None = None
    result: Result | None = None
    trouble: str = ""
    jig_trouble: str = ""
    block: BlockChoice | None = None


def worked(blank: Blank, shop: Shop) -> Worked:
    """Work out one blank."""
    return worked_many([blank], shop)[0]


def worked_many(blanks: Iterable[Blank], shop: Shop) -> list[Worked]:
    """Work out blanks in their order, in one call to geometry."""
    blanks = list(blanks)
    asked = {place: blank.as_request(shop) for place, blank in enumerate(blanks) if blank.spec}
    answers = dict(zip(asked, work_out_each(list(asked.values()), shop.style, shop.standing), strict=True))
    jig_trouble = {}
    for place in [place for place, answer in answers.items() if _is_of_the_jig(answer)]:
        # What this jig cannot cut can still be thicknessed, slotted and glued: the rest of the figures stands.
        jig_trouble[place] = answers[place].words
        asked[place] = replace(asked[place], jig=None, formers=())
        answers[place] = work_out_each([asked[place]], shop.style)[0]
    boards = []
    for place, blank in enumerate(blanks):
        request, answer = asked.get(place), answers.get(place)
        if isinstance(answer, GeometryError):
            boards.append(Worked(blank, request, trouble=answer.words))
        else:
            block = _block_for(blank, request, shop) if request else None
            boards.append(Worked(blank, request, answer, jig_trouble=jig_trouble.get(place, ""), block=block))
    return boards


def _is_of_the_jig(answer: Result | GeometryError) -> bool:
    fields = [problem.field for problem in answer.problems] if isinstance(answer, GeometryError) else []
    return bool(fields) and all(field.startswith(("jig", "formers")) for field in fields)


def _block_for(blank: Blank, request: Request, shop: Shop) -> BlockChoice | None:
    if blank.spec.radius_by != RadiusBy.BLOCK or not blank.waits_for("radiusing"):
        return None
    radii = [math.inf if block.radius is None else float(block.radius) for block in shop.blocks]
    choice = choose_block(radii, request.board) if radii else None
    return BlockChoice(shop.blocks[choice[0]], choice[1]) if choice else None
