"""Questions about blanks."""

from __future__ import annotations

from datetime import date, timedelta

from django.db import models
from django.db.models import Q

from boards.models.state import Condition


def rested(day: date, rest_days: int) -> Q:
    """Tell which have lain long enough; composites need no rest."""
    return Q(species__composite=True) | Q(received_on__lte=day - timedelta(days=rest_days))


class BlankQuerySet(models.QuerySet):
    """Questions about blanks."""

    def with_spec(self) -> BlankQuerySet:
        """Bring along all that the figures of a blank need."""
        return self.select_related(
            "species", "build__wire", "build__route", "pattern__wire", "pattern__route", "changed_by"
        )

    def in_work(self) -> BlankQuerySet:
        """Those that may be worked on."""
        return self.filter(condition=Condition.ACTIVE)

    def not_scrapped(self) -> BlankQuerySet:
        """Those that may still become a board."""
        return self.exclude(condition=Condition.SCRAPPED)

    def ready_for(self, stage: str) -> BlankQuerySet:
        """Those that wait for a stage."""
        return self.in_work().filter(next_stage=stage)

    def on_the_way(self) -> BlankQuerySet:
        """Those that wait for a stage, wherever they lie. Boards that are done with are many; the index skips them."""
        return self.filter(next_stage__gt="")

    def in_rack(self) -> BlankQuerySet:
        """Those on which no stage is done yet, held ones too, and those that were taken off their build later on."""
        return self.filter(in_rack=True)

    def free(self) -> BlankQuerySet:
        """Those that may be put to a build: in the rack, promised to nothing, and not held."""
        return self.in_rack().in_work().filter(build=None, pattern=None)

    def rested_by(self, day: date, rest_days: int) -> BlankQuerySet:
        """Those that have lain long enough, and composites, which need no rest."""
        return self.filter(rested(day, rest_days))
