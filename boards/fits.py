"""Which blank can become which board, by how much, and what it lacks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from boards.models import Blank
from geometry.cautions import CLOSE
from geometry.errors import GeometryError
from geometry.result import Size
from geometry.workout import work_out_each
from shop.models import Build, Shop


@dataclass(frozen=True, slots=True)
class Fit:
    """One build held against one blank. A negative margin is what the blank lacks; lengths are mm."""

    build: Build
    needed: Size
    margin: Size
    right_wood: bool

    @property
    def lacks(self) -> list[tuple[str, float]]:
        """Name each measure that falls short, and by how much."""
        sides = (("length", self.margin.length), ("width", self.margin.width), ("thickness", self.margin.thickness))
        return [(name, -value) for name, value in sides if value < -CLOSE]

    @property
    def fits(self) -> bool:
        """Tell whether the blank will do."""
        return self.right_wood and not self.lacks


def waiting_builds() -> list[Build]:
    """List the open builds that no blank has been put to, the earliest due first."""
    taken = Blank.objects.not_scrapped().exclude(build=None).values("build_id")
    return list(Build.objects.open().exclude(pk__in=taken).select_related("wire", "route", "species"))


def needs(builds: Iterable[Build], shop: Shop) -> list[tuple[Build, Size]]:
    """Work out what blank each build needs; a build that cannot be worked out any more has its reason on its page."""
    builds = list(builds)
    answers = work_out_each([build.as_request() for build in builds], shop.style)
    return [
        (build, answer.blank_needed)
        for build, answer in zip(builds, answers, strict=True)
        if not isinstance(answer, GeometryError)
    ]


def fits(blank: Blank, needed: Iterable[tuple[Build, Size]]) -> list[Fit]:
    """Hold a blank against what builds need, those it fits first."""
    found = [
        Fit(build, size, size.margin_of(blank.size), build.species_id in (None, blank.species_id))
        for build, size in needed
    ]
    return sorted(found, key=lambda fit: not fit.fits)


def fits_for_blank(blank: Blank, shop: Shop) -> list[Fit]:
    """Hold one blank against all builds that wait for one."""
    return fits(blank, needs(waiting_builds(), shop))
