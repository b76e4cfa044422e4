"""Carrying a whole shop from one database into another, and proving that it has arrived.

Whatever the models keep is carried as Django reads and writes it, so neither side needs to be a certain database. All
of it happens in one transaction on either side: the target has all or nothing, the source stands still meanwhile.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from django.apps import apps
from django.contrib.auth import get_user_model
from django.core.management.color import no_style
from django.db import DEFAULT_DB_ALIAS, DataError, IntegrityError, OperationalError, connections, transaction
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.migrations.executor import MigrationExecutor
from django.db.models import JSONField, Model

from shop import environment

TARGET = "moved_to"
AT_ONCE = 200  # rows; some hold a whole file


class CannotMove(Exception):
    """What stands in the way, in words for the person."""


def reach(url: str) -> BaseDatabaseWrapper:
    """Make another database known beside the shop's own, by its URL."""
    described = connections.configure_settings({DEFAULT_DB_ALIAS: environment.database_at(url, "--to")})
    connections.settings[TARGET] = described[DEFAULT_DB_ALIAS]
    return connections[TARGET]


def kept_models() -> list[type[Model]]:
    """List all that is kept, each table once."""
    return [model for model in apps.get_models(include_auto_created=True) if not model._meta.proxy]


def is_up_to_date(connection: BaseDatabaseWrapper) -> bool:
    """Tell whether all migrations have been applied to a database, and none that this program does not know."""
    executor = MigrationExecutor(connection)
    known = set(executor.loader.disk_migrations)
    ours = {label for label, _ in known}
    strange = {key for key in executor.loader.applied_migrations if key[0] in ours} - known
    return not strange and not executor.migration_plan(executor.loader.graph.leaf_nodes())


def is_untouched(using: str) -> bool:
    """Tell whether a migrated database holds nothing but what migrations wrote: nobody can have signed in to it."""
    entered = [get_user_model(), *(model for model in kept_models() if _names_somebody(model))]
    return not any(model._base_manager.using(using).exists() for model in entered)


def _names_somebody(model: type[Model]) -> bool:
    """Tell whether a row of a model always says who wrote it."""
    return any(field.related_model is get_user_model() and not field.null for field in model._meta.concrete_fields)


def claim_source(connection: BaseDatabaseWrapper) -> None:
    """Refuse while anybody else has the database open: what they write would stay behind.

    `serve` keeps one connection open as long as it runs, so an idle server is found too.
    """
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            # SQLite leaves its write-ahead log only for the one connection that there is (sqlite.org/wal.html,
            # "Persistence of WAL mode"), and goes back to it with the next.
            cursor.execute("PRAGMA busy_timeout=2000")
            try:
                alone = cursor.execute("PRAGMA journal_mode=DELETE").fetchone()[0] == "delete"
                cursor.execute("PRAGMA journal_mode=WAL")
            except OperationalError:
                alone = False
        else:
            cursor.execute(
                "SELECT NOT EXISTS (SELECT FROM pg_stat_activity WHERE datname = current_database()"
                " AND backend_type = 'client backend' AND pid <> pg_backend_pid())"
            )
            alone = cursor.fetchone()[0]
    if not alone:
        raise CannotMove("Another program has this shop's database open. Stop serving it, and start this again.")


def hold_still(connection: BaseDatabaseWrapper) -> None:
    """Let nobody write to the source until the transaction ends. On SQLite every transaction of ours does that."""
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        names = ", ".join(connection.ops.quote_name(model._meta.db_table) for model in kept_models())
        cursor.execute(f"LOCK TABLE {names} IN SHARE MODE")


def carry(source: str, target: str) -> Iterator[tuple[type[Model], int]]:
    """Put all rows of one database in place of what migrations wrote into another; give each model with its count.

    Call it inside a transaction on both. In which order the tables come does not matter: Django has both databases
    check at the end of the transaction what refers to what.
    """
    connection, models = connections[target], kept_models()
    tables = [model._meta.db_table for model in models]
    connection.ops.execute_sql_flush(connection.ops.sql_flush(no_style(), tables, allow_cascade=False))
    for model in models:
        yield model, _carry_rows(model, source, target)
    with connection.cursor() as cursor:
        for command in connection.ops.sequence_reset_sql(no_style(), models):
            cursor.execute(command)
    connection.check_constraints()


def _carry_rows(model: type[Model], source: str, target: str) -> int:
    count, batch = 0, []
    rows = model._base_manager.using(source).order_by("pk")
    for row in rows.iterator(chunk_size=AT_ONCE):
        batch.append(row)
        if len(batch) == AT_ONCE:
            count += _write(model, batch, target)
            batch = []
    return count + _write(model, batch, target)


def _write(model: type[Model], rows: list[Model], target: str) -> int:
    if not rows:
        return 0
    try:
        with transaction.atomic(using=target):
            model._base_manager.using(target).bulk_create(rows)
    except (DataError, IntegrityError, ValueError) as error:
        wrong = _first_wrong(model, rows, target) or error
        raise CannotMove(f"{model._meta.verbose_name.capitalize()}: {wrong}") from error
    return len(rows)


def _first_wrong(model: type[Model], rows: list[Model], target: str) -> str:
    """Find the row that the other database does not take, such as a text longer than its column, and say why."""
    for row in rows:
        try:
            with transaction.atomic(using=target):
                model._base_manager.using(target).bulk_create([row])
        except (DataError, IntegrityError, ValueError) as error:
            return f"row {row.pk} is refused there: {str(error).splitlines()[0]}"
    return ""


def digest(model: type[Model], using: str) -> tuple[int, str]:
    """Count the rows of a model and sum up all that is in them, so that either database gives the same."""
    columns = [field.attname for field in model._meta.concrete_fields]
    json_at = {at for at, field in enumerate(model._meta.concrete_fields) if isinstance(field, JSONField)}
    seen, count = hashlib.sha256(), 0
    for row in model._base_manager.using(using).order_by("pk").values_list(*columns).iterator(chunk_size=AT_ONCE):
        count += 1
        plain = [value if at in json_at else _plain(value) for at, value in enumerate(row)]
        seen.update(json.dumps(plain, sort_keys=True).encode() + b"\n")
    return count, seen.hexdigest()


def _plain(value: Any) -> Any:
    """Write a value with its kind, so that 1, "1" and 1.0 differ; a decimal as it counts, not as it is filled up."""
    if value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, Decimal):
        return ["Decimal", format(value.normalize(), "f")]
    if isinstance(value, bytes | memoryview):
        return ["bytes", hashlib.sha256(value).hexdigest()]
    if hasattr(value, "isoformat"):
        return [type(value).__name__, value.isoformat()]
    return [type(value).__name__, repr(value) if isinstance(value, int | float) else str(value)]
