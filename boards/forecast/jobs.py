"""The boards that are still to be worked on: which stages are to come, and from when on each may be begun."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q

from boards.drying import expected
from boards.figures import Worked, worked_many
from boards.matching import match
from boards.models import Blank, Condition
from boards.settled import how_settled
from shop.models import Build, Pattern, Shop

DONE = "Its boards are done."
NO_WOOD = "No blank in the rack will do: it waits for wood."


@dataclass(frozen=True, slots=True)
class Job:
    """A board that is still to be worked on: which stages are to come, and from when on it may be begun."""

    board: Worked
    stages: tuple[str, ...]
    ready_on: date
    why_then: str = ""
    proposed: bool = False
    extra: bool = False

    @property
    def build(self) -> Build | None:
        """The build that it is for; None for a pattern's."""
        return self.board.blank.build

    @property
    def name(self) -> str:
        """What tells it from others, from one day to the next."""
        return f"extra {self.board.blank.number}" if self.extra else f"{self.build or ''}/{self.board.blank.number}"


def jobs_of(shop: Shop, today: date) -> tuple[list[Job], list[tuple[Build, str]]]:
    """Find every board that is still to be worked on, and the builds that have none, with the reason."""
    open_builds = {build.pk: build for build in Build.objects.open()}
    still = Q(build=None) | Q(build__closed_on=None)
    blanks = list(Blank.objects.not_scrapped().on_the_way().filter(still).with_spec())
    proposals = match(shop, today=today).proposals
    for proposal in proposals:
        blank = proposal.blank
        # Only in thought: nothing of this is saved.
        blank.build, blank.stages, blank.done = proposal.build, list(proposal.build.route.stages), []
    held = {pk for pk, build in open_builds.items() if build.is_held}
    active = [blank for blank in blanks if blank.condition == Condition.ACTIVE and blank.build_id not in held]
    boards = worked_many([*active, *(proposal.blank for proposal in proposals)], shop, as_planned=True)
    proposed = {proposal.blank.pk for proposal in proposals}
    ready = _ready([board.blank for board in boards], shop, today)
    jobs = [
        Job(board, _to_come(board.blank), *ready[board.blank.pk], proposed=board.blank.pk in proposed)
        for board in boards
        if board.result
    ]
    stuck = {}
    for build in open_builds.values():
        if build.is_held:
            stuck[build.pk] = "It is held and waits for a decision."
    for blank in blanks:
        if blank.build_id in open_builds and blank.condition == Condition.HELD:
            stuck.setdefault(blank.build_id, f"{blank.number} is held and waits for a decision.")
    for board in boards:
        if not board.result:
            stuck.setdefault(board.blank.build_id, f"{board.blank.number} cannot be worked out.")
    going = Counter(job.build.pk for job in jobs if job.build)
    through = Blank.objects.not_scrapped().filter(build__in=open_builds, next_stage="")
    finished = Counter(through.values_list("build_id", flat=True))
    for pk, build in open_builds.items():
        there = going[pk] + finished[pk]
        if there < build.boards_wanted:
            short = f"Only {there} of its {build.boards_wanted} boards have wood: it waits for more."
            stuck.setdefault(pk, short if there else NO_WOOD)
        elif not going[pk]:
            stuck.setdefault(pk, DONE)
    _hold_up_companions(open_builds, stuck)
    jobs = [job for job in jobs if job.build is None or job.build.pk not in stuck]
    return jobs, [(open_builds[pk], why) for pk, why in stuck.items() if pk in open_builds]


def _hold_up_companions(open_builds: dict[int, Build], stuck: dict[int, str]) -> None:
    """Give no date to a build whose instrument waits for another board, unless its own are done."""
    whole = {pk: build.goes_with_id or pk for pk, build in open_builds.items()}
    waits = {whole[pk]: pk for pk, why in stuck.items() if pk in whole and why != DONE}
    for pk, first in whole.items():
        if first in waits and pk not in stuck:
            stuck[pk] = f"{open_builds[waits[first]].number} of the same instrument has no date."


def _to_come(blank: Blank) -> tuple[str, ...]:
    return tuple(stage for stage in blank.stages if stage not in blank.done)


def _ready(blanks: list[Blank], shop: Shop, today: date) -> dict[int, tuple[date, str]]:
    """Say from which day on each blank may be worked on: one that was begun at once, others when they have settled."""
    resting = [blank for blank in blanks if not blank.done]
    known = how_settled(resting, shop, today=today)
    waiting = [blank for blank in resting if not known[blank.pk].ready]
    by_readings = expected(waiting, known, shop)
    ready = {blank.pk: (today, "") for blank in blanks}
    for blank in waiting:
        found = by_readings.get(blank.pk)
        day = found.on if found and not found.why else blank.received_on + timedelta(days=shop.rest_days)
        if day and day > today:
            ready[blank.pk] = (day, f"{blank.number} rests")
    return ready


def imagined(pattern: Pattern, count: int, due: date | None, nth: int, shop: Shop, today: date) -> Iterable[Job]:
    """Think up boards of a build that might be taken, on the smallest blanks that would do."""
    needed = pattern.figures(shop.style).blank_needed
    build = Build(number="", title=pattern.name, due_on=due, pattern=pattern)
    build.copy_spec(pattern)
    build.pk = -1 - nth
    blanks = [
        Blank(
            number=f"{nth}-{each}", build=build, species=pattern.species, stages=list(pattern.route.stages), done=[],
            length=needed.length, width=needed.width, thickness=needed.thickness,
        )
        for each in range(count)
    ]  # fmt: skip
    for board in worked_many(blanks, shop, as_planned=True):
        if board.result:
            yield Job(board, tuple(board.blank.stages), today, extra=True)


def turn(job: Job) -> tuple[date, bool, str]:
    """Give its place in the queue: by the day that it is due, boards that are only thought of after the others."""
    due = job.build.due_on if job.build else None
    return (due or date.max, job.extra, job.name)
