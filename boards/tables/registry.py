"""Which tables there are: those that have words of their own, and every other model of ours as it comes."""

from __future__ import annotations

import functools
from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db import models

from boards.models import Blank, Calendar, CalendarEntry, LogEntry, StockFile, StockRow
from boards.tables.of_models import links_of, table_of
from boards.tables.table import ROWS_AT_ONCE, Column, Kind, Table
from shop.models import (
    AccountEntry,
    Build,
    Cutter,
    DailyJob,
    Former,
    FretWire,
    Jig,
    JigTest,
    LabelSheet,
    Pattern,
    Route,
    SandingBlock,
    Series,
    Shop,
    Species,
    Tablet,
    Tap,
    Tries,
    User,
)

BOARDS, BUILDS, KIT, SHOP = "Boards", "Builds", "Kit", "The shop"
GROUPS = (BOARDS, BUILDS, KIT, SHOP, "The rest")

# What is not written out: presses of buttons, tries to sign in, what is done daily and what calendars were told are the
# program's own. Of people only their names are.
LEFT_OUT = {Calendar, CalendarEntry, DailyJob, Tap, Tries}

_STATE = {
    "build": "The build that it is put to.",
    "pattern": "The pattern that it is put to, where that is no build.",
    "stages": "Its route: the stages in their order.",
    "done": "The stages that are done.",
    "next_stage": "The stage that it waits for.",
    "version": "How many entries its log has.",
    "changed_at": "When its last entry was written.",
    "changed_by": "Who wrote it.",
    "condition": "Whether it may be worked on: active, held or scrapped.",
    "in_rack": "Whether it lies in the rack.",
}
_SPEC = {
    "wire": "The fret wire that it takes.",
    "species": "The wood that it is made of; empty: any.",
    "route": "The way that it goes through the benches.",
    "overhang": "Board beyond the last fret.",
    "square_fret": "The fret that stands square across a board with two scale lengths.",
    "frets": "How many there are.",
}


def _with_words() -> list[Table]:
    return [
        table_of(
            Blank,
            group=BOARDS,
            about="Every blank that ever came in, as it came and as it stands now. It can be read in again as stock.",
            words={
                "number": "Its number, which it keeps all its life.",
                "species": "The wood.",
                "length": "Its length, as it was last measured as a blank.",
                "width": "Its width.",
                "thickness": "Its thickness.",
                "moisture": "Moisture in percent when it came in, if it was read.",
                "supplier": "Whom it came from.",
                **_STATE,
            },
        ),
        table_of(
            LogEntry,
            group=BOARDS,
            name="log",
            about="What happened to each blank, entry by entry. Nothing of it is ever changed.",
            words={
                "blank": "The blank that it happened to.",
                "kind": "What: received, assigned, freed, rerouted, finished, held, released, reworked, scrapped, "
                "measured or undone.",
                "stage": "The stage, where it is about one.",
                "build": "The build, where it is about one.",
                "pattern": "The pattern, where it is about one.",
                "stages": "The route from then on, where it was set.",
                "readings": "What was measured, in mm; the table readings has the same line by line.",
                "reason": "Why.",
                "request_id": "The press of a button that wrote it; blanks of one box share one.",
                "undoes": "The entry of this blank that it takes back.",
            },
        ),
        _readings(),
        table_of(StockRow, group=BOARDS, name="blanks_from_files", about="Which line of which file gave a blank."),
        table_of(
            StockFile,
            group=BOARDS,
            leave_out=("rows_left_out", "reading", "woods"),
            about="Files of stock that were handed in.",
            words={"name": "As the file was called.", "by": "Who handed it in.",
                   "taken_at": "When it was taken in; empty: it was not."},
        ),  # fmt: skip
        table_of(Build, group=BUILDS, words={**_SPEC, "number": "Its number.", "closed_on": "When it was closed.",
                                             "pattern": "The pattern it began as."}),
        table_of(Pattern, group=BUILDS, words={**_SPEC}),
        table_of(Species, group=KIT),
        table_of(FretWire, group=KIT),
        table_of(Cutter, group=KIT, words={"diameter": "Its diameter."}),
        table_of(Jig, group=KIT, words={"set_at": "When somebody said what stands on it.",
                                        "set_by": "Who did."}),
        table_of(Former, group=KIT, words={"jig": "The jig that it belongs to."}),
        table_of(JigTest, group=KIT, words={"at": "When the board was cut.", "by": "Who cut it.",
                                            "readings": "What was read of it."}),
        table_of(SandingBlock, group=KIT),
        table_of(Route, group=KIT, words={"stages": "Its stages, in their order."}),
        table_of(LabelSheet, group=KIT),
        table_of(Shop, group=SHOP, name="habits", about="The shop's name and habits."),
        table_of(Series, group=SHOP),
        table_of(
            User,
            group=SHOP,
            name="people",
            about="Who works here, by the names that the other tables use. No passwords.",
            only=("username", "first_name", "last_name", "role", "is_active"),
            words={
                "username": "The name to sign in with, by which other tables call them.",
                "first_name": "First name.",
                "last_name": "Last name.",
                "role": "Owner, maker or looker-on.",
                "is_active": "Whether the account is open.",
            },
        ),
        table_of(
            AccountEntry,
            group=SHOP,
            about="What was done about accounts.",
            words={"person": "Whose account.", "by": "Who did it.", "did": "What.", "words": "What exactly."},
        ),
        table_of(
            Tablet,
            group=SHOP,
            about="Tablets on which people sign in with a PIN.",
            leave_out=("secret",),
            words={
                "enrolled_by": "Who enrolled it.",
                "enrolled_at": "When.",
                "seen_at": "When it was last in use.",
                "revoked_by": "Who took that back; empty: nobody.",
                "revoked_at": "When.",
            },
        ),
    ]  # fmt: skip


_WORDED = {
    *(Blank, LogEntry, StockRow, StockFile, Build, Pattern, Species, FretWire, Cutter, Jig, Former, JigTest),
    *(SandingBlock, Route, LabelSheet, Shop, Series, User, AccountEntry, Tablet),
}


def _readings() -> Table:
    columns = (
        Column("blank", Kind.TEXT, "The blank that was measured."),
        Column("entry", Kind.NUMBER, "The entry of its log that has the reading."),
        Column("at", Kind.MOMENT, "When."),
        Column("by", Kind.TEXT, "Who."),
        Column("stage", Kind.TEXT, "The stage that was finished; empty where the blank was measured again."),
        Column("reading", Kind.TEXT, "What was read. Measured again: the size before."),
        Column("value_mm", Kind.LENGTH, "The reading."),
    )

    def rows() -> Iterator[tuple[Any, ...]]:
        entries = LogEntry.objects.order_by("pk").exclude(readings={})
        fields = ("blank__number", "number", "at", "by__username", "stage", "readings")
        for *head, readings in entries.values_list(*fields).iterator(chunk_size=ROWS_AT_ONCE):
            for name, value in readings.items():
                yield (*head, name, value)

    return Table("readings", BOARDS, "Every reading that was taken at a bench.", columns, rows)


@functools.cache
def tables() -> tuple[Table, ...]:
    """Give all tables, group by group. A model that nobody has found words for comes under the names of its fields."""
    found = _with_words()
    for model in our_models():
        if model not in _WORDED:
            found.append(table_of(model, group=_group_of(model)))
        found += links_of(model, group=_group_of(model)) if model is not User else []
    return tuple(sorted(found, key=lambda table: GROUPS.index(table.group)))


def our_models() -> list[type[models.Model]]:
    """Give all models of ours whose rows are written out."""
    ours = [model for app in ("boards", "shop") for model in apps.get_app_config(app).get_models()]
    return [model for model in ours if model not in LEFT_OUT]


def _group_of(model: type[models.Model]) -> str:
    return BOARDS if model._meta.app_label == "boards" else SHOP


def table_named(name: str) -> Table | None:
    """Find a table."""
    return next((table for table in tables() if table.name == name), None)
