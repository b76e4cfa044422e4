"""Tables made from models: a column for each field, another thing named by the name that people call it by."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from django.db import models
from django.utils.text import slugify

from boards.tables.table import ROWS_AT_ONCE, Column, Kind, Table
from shop.fields import LengthField

_KINDS: tuple[tuple[type[models.Field], Kind], ...] = (
    (LengthField, Kind.LENGTH),
    (models.BooleanField, Kind.YES_NO),
    (models.DateTimeField, Kind.MOMENT),
    (models.DateField, Kind.DAY),
    (models.JSONField, Kind.JSON),
    (models.DecimalField, Kind.NUMBER),
    (models.FloatField, Kind.NUMBER),
    (models.IntegerField, Kind.NUMBER),
)
# By which of its fields people call a thing. These two are single only within a blank's log or on a jig.
_CALLED_BY = {"boards.LogEntry": "number", "shop.Former": "name"}
_NAMES = ("number", "name", "username", "kind", "stage", "day")

# What is called the same in many tables, and means the same in all.
_COMMON = {
    "at": "When.",
    "by": "Who.",
    "name": "What it is called.",
    "remarks": "What was remarked.",
    "version": "How often it was changed.",
    "device": "The browser that sent it.",
    "request_id": "The press of a button that wrote it.",
}


def name_of_table(model: type[models.Model]) -> str:
    """Name the table of a model as its file is called."""
    return slugify(str(model._meta.verbose_name_plural)).replace("-", "_")


def table_of(
    model: type[models.Model],
    *,
    group: str = "The rest",
    name: str = "",
    about: str = "",
    only: tuple[str, ...] = (),
    leave_out: tuple[str, ...] = (),
    words: Mapping[str, str] | None = None,
) -> Table:
    """Make the table of a model.

    Parameters
    ----------
    model : type of Model
        Whose rows are written.
    group, name, about : str
        Where it stands in the list of tables, what it is called, and what is in it.
    only, leave_out : tuple of str
        The fields that are written; or those that are not.
    words : mapping
        Words about fields whose own name and help do not say enough.
    """
    fields = [field for field in fields_of(model) if field.name not in leave_out and (not only or field.name in only)]
    columns = tuple(_column(field, (words or {}).get(field.name, "")) for field in fields)
    paths = [_path(field) for field in fields]
    return Table(
        name=name or name_of_table(model),
        group=group,
        about=about or _about(model),
        columns=columns,
        rows=_rows(model, paths),
    )


def _about(model: type[models.Model]) -> str:
    """Take the first line that the model says about itself, without what it says to programmers."""
    sentences = (model.__doc__ or "").strip().split("\n\n")[0].replace("\n", " ").split(". ")
    said = ". ".join(" ".join(sentence.split()) for sentence in sentences if "`" not in sentence)
    return said if said.endswith(".") else f"{said}."


def fields_of(model: type[models.Model]) -> list[models.Field]:
    """Give the fields that are written: all that hold something that can be, the row's own key only where it is used.

    A thing without a name is called by its key where another refers to it, so that then the key is written as well.
    """
    fields = [field for field in model._meta.concrete_fields if not isinstance(field, models.BinaryField)]
    if called_by(model) != "pk":
        fields = [field for field in fields if not isinstance(field, models.AutoField)]
    return fields


def called_by(model: type[models.Model]) -> str:
    """Tell by which field people call a thing: one that is single, or its key where it has none."""
    single = {field.name for field in model._meta.concrete_fields if field.unique}
    return _CALLED_BY.get(model._meta.label) or next((name for name in _NAMES if name in single), "pk")


def links_of(model: type[models.Model], *, group: str) -> list[Table]:
    """Make a table for each relation of many to many."""
    return [_table_of_link(field, group) for field in model._meta.local_many_to_many]


def _table_of_link(field: models.ManyToManyField, group: str) -> Table:
    through, ends = field.remote_field.through, (field.m2m_field_name(), field.m2m_reverse_field_name())
    columns, paths = [], []
    for end in ends:
        other = through._meta.get_field(end).related_model
        columns.append(Column(end, Kind.TEXT, f"One of the table {name_of_table(other)}."))
        paths.append(f"{end}__{called_by(other)}")
    about = f"Which of the table {name_of_table(field.related_model)} go with which of {name_of_table(field.model)}."
    name = f"{field.name}_of_{name_of_table(field.model)}"
    return Table(name, group, about, tuple(columns), _rows(through, paths))


def _rows(model: type[models.Model], paths: list[str]) -> Callable[[], Iterator[tuple[Any, ...]]]:
    def rows() -> Iterator[tuple[Any, ...]]:
        # Values, not objects: no more is fetched or kept than is written, in one query.
        return model._default_manager.order_by("pk").values_list(*paths).iterator(chunk_size=ROWS_AT_ONCE)

    return rows


def _path(field: models.Field) -> str:
    return f"{field.name}__{called_by(field.related_model)}" if field.is_relation else field.name


def _column(field: models.Field, words: str) -> Column:
    words = words or _COMMON.get(field.name, "")
    if field.is_relation:
        kind, other = Kind.TEXT, name_of_table(field.related_model)
        words = words or f"{_sentence(field.verbose_name)} One of the table {other}."
    else:
        kind = next((kind for of, kind in _KINDS if isinstance(field, of)), Kind.TEXT)
    name = f"{field.name}_mm" if kind is Kind.LENGTH and not field.name.endswith("_mm") else field.name
    return Column(name, kind, words or _from_field(field))


def _from_field(field: models.Field) -> str:
    if isinstance(field, models.AutoField):
        return "What other tables call it by."
    words = [_sentence(field.verbose_name), _sentence(field.help_text)]
    if field.choices:
        words.append(f"One of: {', '.join(str(value) for value, _ in field.flatchoices)}.")
    return " ".join(word for word in words if word)


def _sentence(words: object) -> str:
    text = str(words).strip()
    text = text[:1].upper() + text[1:]
    return text if not text or text.endswith(".") else f"{text}."
