"""Which blank can become which board, by how much, and what it lacks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from boards.models import AsMade, Blank, Wanted
from boards.models.clashes import clashes, say_clashes, spare
from geometry.cautions import CLOSE
from geometry.errors import GeometryError
from geometry.request import Request
from geometry.result import Result, Size
from geometry.workout import work_out_each
from shop.models import Build, Shop


@dataclass(frozen=True, slots=True)
class Need:
    """What one build needs."""

    build: Build
    wanted: Wanted

    @property
    def size(self) -> Size:
        """The smallest blank, as it comes in, that will do."""
        return self.wanted.result.blank_needed


@dataclass(frozen=True, slots=True)
class Fit:
    """One build held against one blank. A negative margin is what the blank lacks; lengths are mm.

    ``at_odds`` says what was made of the blank already that the build wants otherwise.
    """

    build: Build
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
    def fits(self) -> bool:
        """Tell whether the blank will do."""
        return self.right_wood and not self.lacks and not self.at_odds


def waiting_builds() -> list[Build]:
    """List the open builds that no blank has been put to, the earliest due first."""
    taken = Blank.objects.not_scrapped().exclude(build=None).values("build_id")
    return list(Build.objects.open().exclude(pk__in=taken).select_related("wire", "route", "species"))


def needs(builds: Iterable[Build], shop: Shop) -> list[Need]:
    """Work out what each build needs; a build that cannot be worked out any more has its reason on its page."""
    builds = list(builds)
    requests = [build.as_request() for build in builds]
    return [
        Need(build, Wanted(build.short_name, build.route.stages, request, answer, shop))
        for build, request, answer in zip(builds, requests, work_out_each(requests, shop.style), strict=True)
        if not isinstance(answer, GeometryError)
    ]


def fits(blank: Blank, needed: Iterable[Need]) -> list[Fit]:
    """Hold a blank as it is by now against what builds need, those it fits first."""
    made = blank.as_made
    found = []
    for need in needed:
        right_wood = need.build.species_id in (None, blank.species_id)
        # What cannot be told may be at odds as well.
        at_odds = say_clashes(clashes(made, blank.done, need.wanted)) or made.unknown_words
        found.append(Fit(need.build, need.size, spare(blank.size, made, need.wanted), right_wood, at_odds, made))
    return sorted(found, key=lambda fit: not fit.fits)


def fits_for_blank(blank: Blank, shop: Shop) -> list[Fit]:
    """Hold one blank against all builds that wait for one."""
    return fits(blank, needs(waiting_builds(), shop))


def to_spare(blank: Blank, request: Request, result: Result, shop: Shop) -> Size:
    """Tell how much larger a blank is by now than its own spec needs it; negative is too small."""
    assert blank.spec is not None
    wanted = Wanted(blank.spec.short_name, blank.stages, request, result, shop)
    return spare(blank.size, blank.as_made, wanted)
