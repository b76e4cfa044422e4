"""Which blank can become which board, by how much, and what it lacks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from django.db.models import F

from boards.models import AsMade, Blank, Wanted
from boards.models.clashes import clashes, say_clashes, spare
from geometry.cautions import CLOSE
from geometry.errors import GeometryError
from geometry.request import Request
from geometry.result import Result, Size
from geometry.words import at_least
from geometry.workout import work_out, work_out_each
from shop.models import Build, Pattern, Shop

MOST_WAITING = 200  # builds that the rack is held against at once, the earliest due ones


@dataclass(frozen=True, slots=True)
class Need:
    """What a build needs, or a pattern."""

    spec: Build | Pattern
    wanted: Wanted

    @property
    def size(self) -> Size:
        """The smallest blank, as it comes in, that will do."""
        return self.wanted.result.blank_needed


@dataclass(frozen=True, slots=True)
class Fit:
    """One build or pattern held against one blank. A negative margin is what the blank lacks; lengths are mm.

    ``at_odds`` says what was made of the blank already that is wanted otherwise.
    """

    spec: Build | Pattern
    needed: Size
    margin: Size
    right_wood: bool
    at_odds: str
    made: AsMade

    @property
    def lacks(self) -> list[tuple[str, float]]:
        """Name each measure that falls short, and by how much; what was cut already is for `at_odds` to judge."""
        sides = []
        if self.made.outline is None:
            sides += [("length", self.margin.length), ("width", self.margin.width)]
        if self.made.thickness is None and self.made.curve is None:
            sides += [("thickness", self.margin.thickness)]
        return [(name, -value) for name, value in sides if value < -CLOSE]

    @property
    def has_size(self) -> bool:
        """Tell whether it would do, were it the right wood."""
        return not self.lacks and not self.at_odds

    @property
    def fits(self) -> bool:
        """Tell whether the blank will do."""
        return self.right_wood and self.has_size


def waiting_builds(most: int | None = MOST_WAITING) -> list[Build]:
    """List the builds that have not all their blanks, the earliest due first; of very many, the first ones.

    ``given`` of each is how many it has. What is held waits for a decision, not for wood.
    """
    waiting = Build.objects.going().annotate(given=Blank.objects.not_scrapped().count_of_build())
    return list(waiting.filter(given__lt=F("boards_wanted")).select_related("wire", "route", "species")[:most])


def lacking(build: Build) -> int:
    """Tell how many blanks a build from `waiting_builds` lacks."""
    return build.boards_wanted - build.given


def needs(specs: Iterable[Build | Pattern], shop: Shop) -> list[Need]:
    """Work out what each build or pattern needs; one that cannot be worked out any more says why on its page.

    Builds of one pattern are alike, and are worked out once.
    """
    specs = list(specs)
    requests = [spec.as_request() for spec in specs]
    unlike = list(dict.fromkeys(requests))
    answers = dict(zip(unlike, work_out_each(unlike, shop.style), strict=True))
    return [
        Need(spec, Wanted(spec.short_name, spec.route.stages, request, answers[request], shop))
        for spec, request in zip(specs, requests, strict=True)
        if not isinstance(answers[request], GeometryError)
    ]


def fit(blank: Blank, made: AsMade, need: Need) -> Fit:
    """Hold a blank, as it is made by now, against one need."""
    right_wood = need.spec.species_id in (None, blank.species_id)
    # What cannot be told may be at odds as well.
    at_odds = say_clashes(clashes(made, blank.done, need.wanted)) or made.unknown_words
    return Fit(need.spec, need.size, spare(blank.size, made, need.wanted), right_wood, at_odds, made)


def fits(blank: Blank, needed: Iterable[Need]) -> list[Fit]:
    """Hold a blank as it is by now against what is needed, what it fits first."""
    made = blank.as_made
    return sorted((fit(blank, made, need) for need in needed), key=lambda fit: not fit.fits)


def fits_for_blank(blank: Blank, shop: Shop) -> list[Fit]:
    """Hold one blank against all builds that wait for one."""
    return fits(blank, needs(waiting_builds(), shop))


class Held:
    """Many blanks held against many needs in one sweep; their logs must be there.

    Attributes
    ----------
    right_wood, has_size, fits : ndarray of bool, shape (needs, blanks)
        As `Fit` has them for one.
    """

    def __init__(self, blanks: Sequence[Blank], needed: Sequence[Need]) -> None:
        self.blanks, self.needed = blanks, needed
        self.made = [blank.as_made for blank in blanks]
        wood = np.array([blank.species_id for blank in blanks], np.int64)
        # No species has the number 0: it stands for any wood.
        asked = np.array([need.spec.species_id or 0 for need in needed], np.int64)[:, None]
        self.right_wood = (asked == 0) | (asked == wood)
        has = np.array([(b.length, b.width, b.thickness) for b in blanks], float).reshape(-1, 3)
        wants = np.array([(n.size.length, n.size.width, n.size.thickness) for n in needed], float).reshape(-1, 3)
        # As it came in, a blank is judged by its size alone; one that is worked on, by what was made of it.
        self.has_size = (has[None] - wants[:, None] >= -CLOSE).all(axis=2)
        alike: dict[tuple, list[int]] = {}
        for row, need in enumerate(needed):
            alike.setdefault((need.wanted.request, *need.wanted.stages), []).append(row)
        for column, made in enumerate(self.made):
            if made.machined or blanks[column].done:
                for rows in alike.values():
                    self.has_size[rows, column] = self.fit(rows[0], column).has_size
        self.fits = self.right_wood & self.has_size

    def fit(self, row: int, column: int) -> Fit:
        """Give one need held against one blank, with its margins and words."""
        return fit(self.blanks[column], self.made[column], self.needed[row])


def size_words(size: Size, shop: Shop) -> str:
    """Say the size that a blank must have at least: 520 × 65 × 7.5 mm."""
    length, width, thickness = size.length, size.width, size.thickness
    smaller = [at_least(measure, shop.style, unit=False) for measure in (length, width)]
    return " × ".join([*smaller, at_least(thickness, shop.style)])


def to_spare(blank: Blank, request: Request, result: Result, shop: Shop) -> Size:
    """Tell how much larger a blank is by now than its own spec needs it; negative is too small."""
    assert blank.spec is not None
    if result.rests:  # what it needs is what was planned, whatever was read of it since
        result = work_out(request, shop.style)
    wanted = Wanted(blank.spec.short_name, blank.stages, request, result, shop)
    return spare(blank.size, blank.as_made, wanted)
