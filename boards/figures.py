"""The figures of many blanks in one go."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from boards.models import Blank
from geometry.errors import GeometryError
from geometry.request import Request
from geometry.result import Result
from geometry.workout import work_out, work_out_many
from shop.models import Shop


@dataclass(frozen=True, slots=True)
class Worked:
    """A blank with what was asked about it and what geometry answered; without figures, why there are none."""

    blank: Blank
    request: Request | None = None
    result: Result | None = None
    trouble: str = ""


def worked(blank: Blank, shop: Shop) -> Worked:
    """Work out one blank."""
    return worked_many([blank], shop)[0]


def worked_many(blanks: Iterable[Blank], shop: Shop) -> list[Worked]:
    """Work out blanks in their order, in one call to geometry."""
    blanks = list(blanks)
    requests = [blank.as_request(shop) if blank.spec else None for blank in blanks]
    asked = [request for request in requests if request is not None]
    try:
        results = iter(work_out_many(asked, shop.style))
        return [
            Worked(blank, request, next(results) if request else None)
            for blank, request in zip(blanks, requests, strict=True)
        ]
    except GeometryError:
        # A spec that was kept before a rule became stricter: only its own blank goes without figures.
        return [_alone(blank, request, shop) for blank, request in zip(blanks, requests, strict=True)]


def _alone(blank: Blank, request: Request | None, shop: Shop) -> Worked:
    if request is None:
        return Worked(blank)
    try:
        return Worked(blank, request, work_out(request, shop.style))
    except GeometryError as error:
        return Worked(blank, request, trouble="; ".join(problem.message for problem in error.problems))
