"""A bench by now: what stands on its machine, and the plan that is being worked through there."""

from __future__ import annotations

from contextlib import suppress
from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import F

from boards.places import Pieces, length, name_of, named
from shop.models import Changed, Cutter, Hand, Jig, Refused, Shop
from shop.stages import STAGES

JIG_STAGE = "radiusing"


class Bench(models.Model):
    """One bench, made when somebody first writes something down for it.

    What stands on the radius jig is the jig's own to say (`shop.models.Jig`). Here only the depth of its cutter is
    kept, with the cutter that it was set with; and all of it while the shop has no jig.
    """

    stage = models.CharField(max_length=20, primary_key=True)
    pieces = models.JSONField(default=dict, blank=True)
    stands_since = models.DateTimeField(null=True, blank=True)
    stands_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    plan = models.JSONField(null=True, blank=True)
    planned_at = models.DateTimeField(null=True, blank=True)
    planned_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    version = models.PositiveIntegerField(default=0)

    class Meta:
        verbose_name_plural = "benches"

    def __str__(self) -> str:
        return STAGES[self.stage].label if self.stage in STAGES else self.stage

    @classmethod
    def at(cls, stage: str) -> Bench:
        """Fetch a bench; one that nobody has written anything down for is not in the database yet."""
        return cls.objects.select_related("stands_by", "planned_by").filter(pk=stage).first() or cls(stage=stage)

    # What stands there

    def standing(self, shop: Shop) -> Pieces:
        """Say what stands on the machine now, as far as that is known."""
        if self.stage != JIG_STAGE or shop.jig is None:
            return self.pieces
        jig, now = shop.jig, {"riser": named("in" if shop.jig.riser_in else "out")}
        if shop.cutter_id is None:
            now["cutter"] = ""  # boards ask for none
        for place, former in (("head_former", jig.head_former), ("heel_former", jig.heel_former)):
            if former is not None:
                now[place] = named(former.name)
        if jig.cutter_id is not None:
            cutter = shop.cutter if shop.cutter_id == jig.cutter_id else jig.cutter
            now["cutter"] = length(float(cutter.diameter))
        if "depth" in self.pieces and self.pieces.get("cutter") == now.get("cutter"):
            now["depth"] = self.pieces["depth"]
        return now

    def stand(self, hand: Hand, seen: int, pieces: Pieces, shop: Shop) -> None:
        """Write down that the machine is set up so, as somebody says who has seen it."""
        self._claim(seen)
        self._set(hand, pieces, shop)

    def worked_on(self, hand: Hand, pieces: Pieces, shop: Shop) -> None:
        """Write down what a finished board went through on: nobody finishes a board on anything else.

        Whoever has the bench open is told that something else stands there by now.
        """
        Bench.objects.get_or_create(pk=self.pk)
        Bench.objects.filter(pk=self.pk).update(version=F("version") + 1)
        with suppress(Refused):  # the kit has been changed meanwhile; a board that is finished is finished
            self._set(hand, pieces, shop)

    def _set(self, hand: Hand, pieces: Pieces, shop: Shop) -> None:
        kept = dict(pieces)
        if self.stage == JIG_STAGE and shop.jig_id is not None and "head_former" in pieces:
            _set_jig(hand, pieces, shop)
            kept = {place: piece for place, piece in kept.items() if place in ("depth", "cutter")}
        self._write(pieces=kept, stands_since=hand.at, stands_by=hand.by)

    # The plan

    def keep_plan(self, hand: Hand, seen: int, plan: dict[str, Any]) -> None:
        """Keep a plan that was worked out just now."""
        self._claim(seen)
        self._write(plan=plan, planned_at=hand.at, planned_by=hand.by)

    def change_plan(self, seen: int, plan: dict[str, Any]) -> None:
        """Keep a plan that somebody has changed by hand."""
        self._claim(seen)
        self._write(plan=plan)

    def _claim(self, seen: int) -> None:
        """Take the next version, if the bench still is as the person saw it."""
        Bench.objects.get_or_create(pk=self.pk)
        if not Bench.objects.filter(pk=self.pk, version=seen).update(version=seen + 1):
            raise Changed(
                f"Somebody has changed the plan of this bench ({str(self).lower()}), or what stands there, since you "
                "saw it.",
                self,
            )
        self.version = seen + 1

    def _write(self, **values: Any) -> None:
        Bench.objects.filter(pk=self.pk).update(**values)
        for name, value in values.items():
            setattr(self, name, value)


def _set_jig(hand: Hand, pieces: Pieces, shop: Shop) -> None:
    """Let the jig in use hold what stands on it."""
    jig = Jig.objects.select_for_update().get(pk=shop.jig_id)
    formers = {former.name: former for former in jig.formers.all()}
    cutters = Cutter.objects.filter(pk__in=[pk for pk in (jig.cutter_id, shop.cutter_id) if pk])
    cutter = next((each for each in cutters if length(float(each.diameter)) == pieces["cutter"]), None)
    jig.stand(
        hand,
        jig.version,
        head=formers.get(name_of(pieces["head_former"])),
        heel=formers.get(name_of(pieces["heel_former"])),
        riser_in=name_of(pieces["riser"]) == "in",
        cutter=cutter,
    )
