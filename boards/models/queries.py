"""Questions about blanks."""

from __future__ import annotations

from datetime import date, timedelta

from django.db import models
from django.db.models import Count, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from boards.models.state import Condition
from shop.models import BuildState
from shop.stages import STAGES


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
        """Those that wait for a stage and may go on."""
        return self.in_work().filter(next_stage=stage).of_what_goes_on()

    def of_what_goes_on(self) -> BlankQuerySet:
        """Without those whose build is held, delivered or cancelled."""
        return self.filter(Q(build=None) | Q(build__state=BuildState.OPEN))

    def count_of_build(self) -> models.Expression:
        """Count them for the build of a query around this one."""
        counted = self.filter(build=OuterRef("pk")).order_by().values("build").annotate(count=Count("pk"))
        return Coalesce(Subquery(counted.values("count")), 0)

    def on_the_way(self) -> BlankQuerySet:
        """Those that wait for a stage, wherever they lie; named one by one, so that the index skips all others."""
        return self.filter(next_stage__in=list(STAGES))

    def held(self) -> BlankQuerySet:
        """Those on which work is stopped, wherever they lie."""
        return self.filter(condition=Condition.HELD, next_stage__in=["", *STAGES])

    def in_rack(self) -> BlankQuerySet:
        """Those on which no stage is done yet, held ones too, and those that were taken off their build later on."""
        # Said so, SQLite finds them by the index; by the bare column it would look at all blanks there ever were.
        return self.filter(in_rack__in=[True])

    def free(self) -> BlankQuerySet:
        """Those that may be put to a build: in the rack, promised to nothing, and not held."""
        return self.in_rack().in_work().filter(build=None, pattern=None)

    def rested_by(self, day: date, rest_days: int) -> BlankQuerySet:
        """Those that have lain long enough, and composites, which need no rest."""
        return self.filter(rested(day, rest_days))
