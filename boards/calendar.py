"""The shop's dates as an iCalendar feed (RFC 5545): builds that are due, what is forecast of them, and days off.

A date keeps its UID for ever. Its SEQUENCE goes up, and its DTSTAMP and LAST-MODIFIED move, when what is said of it has
changed and not before, so that the same dates are the same bytes and whoever asks again is told that nothing is new.
"""

from __future__ import annotations

import hashlib
import unicodedata
import uuid
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Final

from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from icalendar import Calendar as Feed
from icalendar import Event, Timezone, vText

from boards.forecast.kept import keep_forecasts
from boards.forecast.outlook import HALF, MOST
from boards.models import Calendar, CalendarEntry, KeptForecast
from shop.models import Build, DayOff, Shop

ASK_AGAIN: Final = timedelta(hours=1)  # how often a calendar is told to look
SAID: Final = {
    HALF: "boards done, as likely as not",
    MOST: f"boards done, in {MOST} runs of 100",
}


@dataclass(frozen=True, slots=True)
class Day:
    """One day, or several in a row, and what is to be said of it. ``last`` is the last day that belongs to it."""

    uid: uuid.UUID
    first: date
    last: date
    title: str
    words: str = ""
    path: str = ""

    def digest(self, home: str) -> str:
        """Know again what is said."""
        said = (self.first.isoformat(), self.last.isoformat(), self.title, self.words, home and home + self.path)
        return hashlib.sha256("\0".join(said).encode()).hexdigest()


def days_of(calendar: Calendar, shop: Shop, *, now: datetime) -> list[Day]:
    """Gather what the calendar shows. No customer is named: calendars are read on phones and by strangers' machines."""
    today = timezone.localdate(now)
    _forecast_once_a_day(calendar, shop, now)
    builds = {build.pk: build for build in Build.objects.open()}
    days = [
        Day(
            uid=_uid(calendar, "due", build.pk),
            first=build.due_on,
            last=build.due_on,
            title=f"{build}: due",
            words="Held until somebody decides." if build.is_held else "",
            path=reverse("shop:build", args=[build.number]),
        )
        for build in builds.values()
        if build.due_on
    ]
    for kept in KeptForecast.objects.filter(made_on=today, build__in=builds).order_by("build__number"):
        days += _forecast_days(calendar, builds[kept.build_id], kept)
    for off in DayOff.objects.all():
        days.append(
            Day(_uid(calendar, "off", off.pk), off.first, off.last, f"Day off: {off.why}" if off.why else "Day off")
        )
    return days


def _forecast_days(calendar: Calendar, build: Build, kept: KeptForecast) -> Iterator[Day]:
    due = f"Promised for {date_format(build.due_on)}." if build.due_on else "No day is promised."
    for share, said in SAID.items():
        if written := kept.dates.get(str(share)):
            day = date.fromisoformat(written)
            uid = _uid(calendar, f"forecast {share}", build.pk)
            yield Day(uid, day, day, f"{build}: {said}", f"Forecast once a day. {due}", reverse("boards:dates"))


def _forecast_once_a_day(calendar: Calendar, shop: Shop, now: datetime) -> None:
    """Keep today's forecast, if nobody has asked for it yet: a feed is fetched far more often than that."""
    today = timezone.localdate(now)
    if calendar.forecast_on != today:
        keep_forecasts(shop, now=now)
        Calendar.objects.filter(pk=calendar.pk).update(forecast_on=today)


def _uid(calendar: Calendar, what: str, pk: int) -> uuid.UUID:
    return uuid.uuid5(calendar.known_as, f"{what} {pk}")


def write_feed(calendar: Calendar, shop: Shop, *, now: datetime) -> bytes:
    """Write the feed, and remember what each date has been told as."""
    days, home = days_of(calendar, shop, now=now), shop.web_address.rstrip("/")
    told = _tell(days, home, now)
    feed = Feed()
    feed.add("prodid", "-//Camberbook//Dates of the shop//EN")
    feed.add("version", "2.0")
    feed.add("calscale", "GREGORIAN")
    feed.add("method", "PUBLISH")
    for name in ("name", "x-wr-calname"):  # RFC 7986, 5.1, and what calendars read before there was that
        feed.add(name, vText(_plain(shop.name)))
    feed.add("refresh-interval", ASK_AGAIN, parameters={"VALUE": "DURATION"})  # RFC 7986
    for day in days:
        feed.add_component(_event(day, told[day.uid], home))
    if not days:  # RFC 5545, 3.6: a calendar has one component at least
        feed.add_component(Timezone.from_tzid("UTC"))
    return feed.to_ical()


def _event(day: Day, told: CalendarEntry, home: str) -> Event:
    event = Event()
    event.add("uid", str(day.uid))
    event.add("dtstamp", told.changed_at.astimezone(UTC))
    event.add("last-modified", told.changed_at.astimezone(UTC))
    event.add("sequence", told.sequence)
    event.add("dtstart", day.first)
    event.add("dtend", day.last + timedelta(days=1))  # RFC 5545, 3.6.1: the end does not belong to it
    event.add("summary", _plain(day.title))
    if day.words:
        event.add("description", _plain(day.words))
    if home and day.path:
        event.add("url", home + day.path)
    event.add("transp", "TRANSPARENT")  # nobody is busy because a board is due
    return event


def _plain(text: str) -> str:
    """Take out what a calendar's text must not have (RFC 5545, 3.3.11): control characters but tab and line feed."""
    return "".join(each if each == "\t" or unicodedata.category(each) != "Cc" else " " for each in text)


def _tell(days: Sequence[Day], home: str, now: datetime) -> dict[uuid.UUID, CalendarEntry]:
    """Say for each date since when it is told as it is now, and as which telling."""
    known = CalendarEntry.objects.in_bulk([day.uid for day in days])
    fresh, changed, at = [], [], now.replace(microsecond=0)
    for day in days:
        digest, entry = day.digest(home), known.get(day.uid)
        if entry is None:
            known[day.uid] = CalendarEntry(uid=day.uid, digest=digest, changed_at=at)
            fresh.append(known[day.uid])
        elif entry.digest != digest:
            entry.digest, entry.sequence, entry.changed_at = digest, entry.sequence + 1, at
            changed.append(entry)
    if fresh or changed:
        with transaction.atomic():
            # Of two who ask at once one writes; both say the same.
            CalendarEntry.objects.bulk_create(fresh, ignore_conflicts=True)
            CalendarEntry.objects.bulk_update(changed, ["digest", "sequence", "changed_at"])
    return known
