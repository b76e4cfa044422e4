"""The life of a build: what happened to it and to the boards that were put to it, in one order."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from itertools import groupby
from typing import Any

from django.utils import timezone
from django.utils.formats import date_format

from boards.forecast.outlook import MOST
from boards.models import KeptForecast, Kind, LogEntry
from geometry.units import LengthStyle, format_length
from shop.drawings.lifeline import Lane, Life, Told
from shop.fields import LengthField
from shop.models import Build, BuildEntry, BuildKind

CHANGES = 6  # of the forecast that are shown, the latest ones
_GOES_ON = (BuildKind.RELEASED, BuildKind.DELIVERED, BuildKind.CANCELLED, BuildKind.REOPENED)
_TOLD = (Kind.ASSIGNED, Kind.FREED, Kind.FINISHED, Kind.HELD, Kind.RELEASED, Kind.REWORKED, Kind.SCRAPPED)


@dataclass(slots=True)
class Event:
    """One thing that happened, with its number in the drawing; ``of`` is the board, empty for the build itself."""

    at: datetime
    words: str
    text: str
    by: str
    of: str = ""
    number: int = 0
    is_note: bool = False


@dataclass(slots=True)
class Story:
    """All that happened, in its order, and the drawing of it."""

    events: list[Event]
    life: Life | None
    forecasts: list[Told]
    say: str

    @property
    def notes(self) -> list[Event]:
        """What was noted, the latest first."""
        return [event for event in reversed(self.events) if event.is_note]


def story_of(build: Build, *, today: date, style: LengthStyle = LengthStyle.MM) -> Story:
    """Gather the life of a build: four queries, however long it was."""
    entries = list(build.entries.select_related("by"))
    own = [(entry, _of_build(entry, style)) for entry in entries]
    boards = _of_boards(build)
    events = [event for _, event in own] + [event for its in boards.values() for _, event in its]
    events.sort(key=lambda event: event.at)
    for number, event in enumerate(events, 1):
        event.number = number
    forecasts = _moves(KeptForecast.objects.filter(build=build).order_by("made_on").values_list("made_on", "dates"))
    lanes = _lanes(build, own, boards, today)
    life = Life(lanes, forecasts, _promised(build, entries), today) if lanes else None
    return Story(events, life, forecasts, _say(build, events, forecasts))


def _of_build(entry: BuildEntry, style: LengthStyle) -> Event:
    text = entry.text or change_words(entry.changes, style)
    at = entry.happened_at
    return Event(at, entry.words, text, str(entry.by), is_note=entry.kind == BuildKind.NOTED)


def change_words(changes: dict[str, list[Any]], style: LengthStyle) -> str:
    """Say what was changed: the new value, and the one before."""
    said = []
    for name, (before, after) in changes.items():
        field_ = Build._meta.get_field(name)
        was, now = (_value(field_, value, style) for value in (before, after))
        label = str(field_.verbose_name)
        said.append(f"{label[:1].upper()}{label[1:]}: {now or 'nothing'}, was {was or 'nothing'}.")
    return " ".join(said)


def _value(field_: Any, value: object, style: LengthStyle) -> str:
    if value is None:
        return ""
    if isinstance(field_, LengthField):
        return format_length(Decimal(str(value)), style)
    if field_.name == "due_on":
        return date_format(date.fromisoformat(str(value)))
    choices = dict(field_.flatchoices) if field_.choices else {}
    return str(choices.get(value, value))


def _of_boards(build: Build) -> dict[str, list[tuple[LogEntry, Event]]]:
    """Give what happened to each board while it was put to the build."""
    put = LogEntry.objects.filter(build=build, kind=Kind.ASSIGNED).order_by().values("blank")
    entries = LogEntry.objects.with_words().select_related("blank").filter(blank__in=put, undone_by=None)
    found: dict[str, list[tuple[LogEntry, Event]]] = {}
    in_order = entries.filter(kind__in=_TOLD).order_by("blank__number", "number")
    for number, its in groupby(in_order, key=lambda entry: entry.blank.number):
        here = False
        for entry in its:
            here = entry.build_id == build.pk if entry.kind == Kind.ASSIGNED else here
            if here:
                words = "Put to it" if entry.kind == Kind.ASSIGNED else entry.words
                event = Event(entry.happened_at, words, entry.reason, str(entry.by), of=number)
                found.setdefault(number, []).append((entry, event))
            here = here and entry.kind != Kind.FREED
    return found


def _moves(kept: Iterable[tuple[date, dict[str, str]]]) -> list[Told]:
    """Leave out the forecasts that said what the one before had said."""
    told: list[Told] = []
    for made, dates in kept:
        if day := dates.get(str(MOST)):
            day = date.fromisoformat(day)
            if not told or told[-1].day != day:
                told.append(Told(made, day))
    return told[-CHANGES:]


def _lanes(
    build: Build, own: list[tuple[BuildEntry, Event]], boards: dict[str, list[tuple[LogEntry, Event]]], today: date
) -> list[Lane]:
    starts = [_day(event.at) for _, event in own] + [_day(its[0][1].at) for its in boards.values()]
    if not starts:
        return []
    first, last = min(starts), build.closed_on or today
    lane = Lane(build.number, first, max(last, first))
    lane.broken = build.state == "cancelled"
    holding = _Holding(lane)
    for entry, event in own:
        day = entry.day or _day(event.at)
        lane.marks.append((max(day, first), event.number))
        holding.see(
            entry.kind == BuildKind.HELD, day, goes_on=entry.kind != BuildKind.NOTED and entry.kind != "changed"
        )
    holding.end(lane.end)
    return [lane, *(_board_lane(number, its, lane.end) for number, its in boards.items())]


def _board_lane(number: str, its: list[tuple[LogEntry, Event]], last: date) -> Lane:
    start = _day(its[0][1].at)
    lane = Lane(number, start, max(last, start))
    holding = _Holding(lane)
    for entry, event in its:
        day = _day(event.at)
        lane.marks.append((day, event.number))
        holding.see(entry.kind == Kind.HELD, day, goes_on=entry.kind in (Kind.RELEASED, Kind.REWORKED, Kind.SCRAPPED))
    final = its[-1][0]
    if final.kind in (Kind.FREED, Kind.SCRAPPED) or (final.kind == Kind.FINISHED and not final.to_stage):
        lane.end = _day(its[-1][1].at)
    lane.broken = final.kind == Kind.SCRAPPED
    holding.end(lane.end)
    return lane


@dataclass(slots=True)
class _Holding:
    """Follows on a lane when something was held, and until when."""

    lane: Lane
    since: date | None = field(default=None)

    def see(self, held: bool, day: date, *, goes_on: bool) -> None:
        if held and self.since is None:
            self.since = day
        elif self.since is not None and goes_on:
            self.end(day)

    def end(self, day: date) -> None:
        if self.since is not None:
            self.lane.held.append((self.since, max(day, self.since)))
        self.since = None


def _promised(build: Build, entries: list[BuildEntry]) -> list[date]:
    """List the days that were promised; the one that holds by now is the last."""
    before = [entry.due[0] for entry in entries if entry.due and entry.due[0]]
    return [*(day for day in before if day != build.due_on), *([build.due_on] if build.due_on else [])]


def _day(at: datetime) -> date:
    return timezone.localdate(at)


def _say(build: Build, events: list[Event], forecasts: list[Told]) -> str:
    said = [f"{len(events)} things happened to it; the table below has them by the numbers on the line."]
    if build.due_on:
        said.append(f"Promised for {date_format(build.due_on)}.")
    if forecasts:
        said.append(f"The last forecast, of {date_format(forecasts[-1].made)}: {date_format(forecasts[-1].day)}.")
    return " ".join(said)
