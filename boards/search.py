"""Looking for words in everything: blanks, builds, notes, reasons in the log, papers, patterns, woods.

Of each kind the first fifty are shown. Where there are more, the page says "more than 50" rather than count them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Final

from django.db.models import Model, Q, QuerySet
from django.db.models.functions import Length
from django.urls import reverse

from boards.models import Blank, LogEntry, MoistureReading, Paper, Photograph
from shop.models import Build, BuildEntry, Pattern, Species
from shop.models.words import anywhere, begins_with

MOST: Final = 50  # of one kind
_NUMBER = re.compile(r"[A-Z]{0,8}-?\d[A-Z\d-]*\Z", re.IGNORECASE | re.ASCII)  # how the shop's numbers begin
AROUND: Final = 70  # characters that are shown before and after what was found


@dataclass(frozen=True, slots=True)
class Row:
    """One thing that was found: where it is, what it is called, what it is, and the words in which it was found."""

    address: str
    name: str
    what: str = ""
    label: str = ""
    before: str = ""
    match: str = ""
    after: str = ""
    at: datetime | None = None
    by: str = ""
    blank: Blank | None = None


@dataclass(frozen=True, slots=True)
class Group:
    """What was found of one kind; ``more`` than is shown."""

    title: str
    rows: list[Row]
    more: bool

    @property
    def count(self) -> str:
        """Say how many."""
        return f"more than {MOST}" if self.more else str(len(self.rows))


def search(text: str) -> list[Group]:
    """Look for a text everywhere. One query for each kind, and no more however much there is."""
    if not text:
        return []
    groups = [_blanks, _builds, _of_builds, _of_log, _papers, _photographs, _moisture, _patterns, _woods]
    found = [group(text) for group in groups]
    return [group for group in found if group.rows]


def by_number(text: str) -> list[Group]:
    """Find the blanks and builds whose number begins so; nothing where the text is not how a number begins."""
    if not _NUMBER.match(text):
        return []
    begins = begins_with(text.upper(), "number")
    found = [_blanks(text, begins), _builds(text, begins)]
    return [group for group in found if group.rows]


def _blanks(text: str, which: Q | None = None) -> Group:
    columns = ("number", "species__name", "supplier", "lot", "place", "remarks")
    blanks, more = _some(Blank.objects.with_spec().filter(which or anywhere(text, columns)).order_by("number"))
    rows = [
        Row(
            reverse("boards:blank", args=[blank.number]),
            blank.number,
            f"{blank.species}{f', {blank.spec}' if blank.spec else ''}",
            blank=blank,
            **_where(text, blank, ("supplier", "lot", "place", "remarks")),
        )
        for blank in blanks
    ]
    return Group("Blanks", rows, more)


def _builds(text: str, which: Q | None = None) -> Group:
    columns = ("number", "title", "customer", "remarks")
    builds, more = _some(Build.objects.filter(which or anywhere(text, columns)).order_by("closed_on", "number"))
    rows = [
        Row(
            reverse("shop:build", args=[build.number]),
            build.number,
            f"{build.title}{'' if build.is_open else f', {build.get_state_display()}'}",
            **_where(text, build, ("customer", "remarks")),
        )
        for build in builds
    ]
    return Group("Builds", rows, more)


def _of_builds(text: str) -> Group:
    entries = BuildEntry.objects.filter(anywhere(text, ("text",))).select_related("build", "by")
    found, more = _some(entries.order_by("-at", "-pk"))
    rows = [
        Row(
            f"{reverse('shop:build', args=[entry.build.number])}#notes",
            entry.build.number,
            entry.words,
            at=entry.happened_at,
            by=str(entry.by),
            **_excerpt(text, entry.text),
        )
        for entry in found
    ]
    return Group("Notes and reasons about builds", rows, more)


def _of_log(text: str) -> Group:
    # By the length of the reason, which has an index: of most entries it is nothing. Within, so that no database goes
    # through the whole log by time instead.
    with_reason = LogEntry.objects.alias(long=Length("reason")).filter(long__gt=0).filter(anywhere(text, ("reason",)))
    entries = LogEntry.objects.with_words().select_related("blank").filter(pk__in=with_reason.order_by().values("pk"))
    found, more = _some(entries.order_by("-at", "-pk"))
    rows = [
        Row(
            reverse("boards:blank", args=[entry.blank.number]),
            entry.blank.number,
            entry.words,
            at=entry.happened_at,
            by=str(entry.by),
            **_excerpt(text, entry.reason),
        )
        for entry in found
    ]
    return Group("Reasons in the log of a blank", rows, more)


def _papers(text: str) -> Group:
    columns = ("number", "issued_by", "says")
    papers, more = _some(Paper.objects.filter(anywhere(text, columns)).prefetch_related("blanks"))
    rows = [
        Row(
            reverse("boards:papers", args=[blanks[0].number]),
            blanks[0].number,
            f"{paper}{f', and {len(blanks) - 1} more blanks' if blanks[1:] else ''}",
            **_where(text, paper, ("issued_by", "says")),
        )
        for paper in papers
        if (blanks := list(paper.blanks.all()))
    ]
    return Group("Papers", rows, more)


def _photographs(text: str) -> Group:
    found, more = _some(Photograph.objects.filter(anywhere(text, ("note",))).select_related("blank").order_by("-at"))
    return Group("Photographs", _of_blanks(text, found, "boards:pictures", "note"), more)


def _moisture(text: str) -> Group:
    readings = MoistureReading.objects.filter(anywhere(text, ("remark",))).select_related("blank", "by")
    found, more = _some(readings.order_by("-at", "-pk"))
    return Group("Readings of moisture", _of_blanks(text, found, "boards:blank", "remark"), more)


def _of_blanks(text: str, found: Iterable[Any], address: str, column: str) -> list[Row]:
    return [
        Row(
            reverse(address, args=[each.blank.number]),
            each.blank.number,
            at=each.at,
            **_excerpt(text, getattr(each, column)),
        )
        for each in found
    ]


def _patterns(text: str) -> Group:
    found, more = _some(Pattern.objects.filter(anywhere(text, ("name", "remarks"))).order_by("name"))
    rows = [Row(reverse("shop:pattern", args=[p.pk]), p.name, **_where(text, p, ("remarks",))) for p in found]
    return Group("Patterns", rows, more)


def _woods(text: str) -> Group:
    columns = ("name", "botanical", "trade_note", "dust_note")
    found, more = _some(Species.objects.filter(anywhere(text, columns)).order_by("name"))
    rows = [Row(reverse("shop:wood", args=[wood.pk]), wood.name, **_where(text, wood, columns[1:])) for wood in found]
    return Group("Woods", rows, more)


def _some(found: QuerySet) -> tuple[list[Any], bool]:
    rows = list(found[: MOST + 1])
    return rows[:MOST], len(rows) > MOST


def _where(text: str, thing: Model, columns: Sequence[str]) -> dict[str, str]:
    """Show the first of some columns in which it stands, by its name."""
    for column in columns:
        if shown := _excerpt(text, getattr(thing, column)):
            name = str(thing._meta.get_field(column).verbose_name)
            return {**shown, "label": f"{name[:1].upper()}{name[1:]}"}
    return {}


def _excerpt(text: str, whole: str) -> dict[str, str]:
    """Cut out what was found with some words around it."""
    match = re.search(re.escape(text), whole, re.IGNORECASE)
    if match is None:
        return {}
    start, end = max(match.start() - AROUND, 0), match.end() + AROUND
    return {
        "before": ("… " if start else "") + whole[start : match.start()],
        "match": match[0],
        "after": whole[match.end() : end] + (" …" if end < len(whole) else ""),
    }
