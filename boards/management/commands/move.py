"""`manage.py move`: carry the whole shop into another database, and prove that all of it has arrived."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Iterator
from typing import Any

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections, transaction

from boards.management.commands.check_log import troubles
from boards.models import Blank
from shop import moving
from shop.moving import TARGET, CannotMove


class Command(BaseCommand):
    """Move the shop."""

    help = (
        "Carry everything in the database into another, empty one. The old one stays as it is, and so does the data "
        "folder with its photographs and papers. Stop serving first."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        """Say what can be typed after `move`."""
        parser.add_argument(
            "--to",
            required=True,
            metavar="URL",
            help="sqlite:////folder/file or postgres://user@host:port/name. A password is better left out of it and "
            "put into the variable PGPASSWORD or the file ~/.pgpass, where nobody else on the machine sees it.",
        )

    def handle(self, *, to: str, **options: Any) -> None:
        """Look whether it can be done, do it, prove it."""
        try:
            target = moving.reach(to)
            self._prepare(target, to)
            rows, proof = self._carry()
        except (CannotMove, ImproperlyConfigured) as error:
            raise CommandError(f"{error} Nothing was moved.") from None
        except DatabaseError as error:
            raise CommandError(f"A database cannot be used: {str(error).strip()}. Nothing was moved.") from None
        finally:
            if TARGET in connections.settings:
                connections[TARGET].close()
        self.stdout.write(f"{rows} rows are there, each as it is here in every column (SHA-256 {proof}).")
        self.stdout.write("Set DATABASE_URL to the new database before serving again. Nobody uses this one any more.")

    def _prepare(self, target: Any, to: str) -> None:
        source = connections[DEFAULT_DB_ALIAS]
        if not moving.is_up_to_date(source):
            raise CannotMove("This shop's database is of another version. Start `serve` once, and stop it again.")
        moving.claim_source(source)
        if not target.introspection.table_names():
            self.stdout.write("The new database is empty; making its tables.")
            target.close()
            _make_tables(to)
        if not moving.is_up_to_date(target):
            raise CannotMove("The other database holds something else, or a shop of another version.")
        if not moving.is_untouched(TARGET):
            raise CannotMove("There is a shop in the other database already.")

    def _carry(self) -> tuple[int, str]:
        source = connections[DEFAULT_DB_ALIAS]
        with transaction.atomic(), transaction.atomic(using=TARGET):
            moving.hold_still(source)
            counts = dict(moving.carry(DEFAULT_DB_ALIAS, TARGET))
            whole = hashlib.sha256()
            for model, carried in counts.items():
                here, there = moving.digest(model, DEFAULT_DB_ALIAS), moving.digest(model, TARGET)
                if here != there or here[0] != carried:
                    name = model._meta.verbose_name_plural
                    raise CannotMove(f"The {name} came out otherwise there: {there[0]} rows of {here[0]}.")
                whole.update(here[1].encode())
            for wrong in _troubles_there():
                raise CannotMove(f"In the new database something does not agree. {wrong}.")
        return sum(counts.values()), whole.hexdigest()


def _make_tables(url: str) -> None:
    """Migrate a database as the one of a shop of its own: migrations that write rows write them to the shop's."""
    environment = {**os.environ, "DATABASE_URL": url, "CAMBERBOOK_PREPARE": "no"}
    for other in ("DATABASE_URL_FILE", "CAMBERBOOK_DEMO"):
        environment.pop(other, None)
    command = [sys.executable, settings.CHECKOUT / "manage.py", "migrate", "--noinput", "--verbosity=0"]
    done = subprocess.run(command, env=environment, stderr=subprocess.PIPE, text=True, errors="replace")
    if done.returncode:
        last = (done.stderr.strip().splitlines() or [""])[-1]
        raise CannotMove(f"The tables of the new database could not be made: {last}")


def _troubles_there() -> Iterator[str]:
    for blank in Blank.objects.using(TARGET).prefetch_related("log").iterator(chunk_size=500):
        for trouble in troubles(blank):
            yield f"{blank.number}: {trouble}"
