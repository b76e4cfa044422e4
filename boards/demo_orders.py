"""The order book of the demo's shop: who wrote builds down, what was noted, what is held, what was forecast."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from django.db.models import Min, Q

from boards.forecast.outlook import SHARES
from boards.models import KeptForecast, Kind
from shop.models import Build, BuildEntry, BuildKind

if TYPE_CHECKING:
    from boards.demo import Diary

# Days by which the dates of each share lie before or after the one that most runs keep.
_SPREAD = dict(zip(SHARES, (-9, -7, -4, -2, 0, 4), strict=True))


def fill_order_book(diary: Diary, specs: dict[str, Any]) -> None:
    """Tell what became of some builds besides their boards."""
    for build in Build.objects.annotate(put_at=Min("blanks__log__at", filter=Q(blanks__log__kind=Kind.ASSIGNED))):
        put = (diary.now - build.put_at).days if build.put_at else 40
        build.write_down(diary.hand(put + 3, who=0))
    first: Build = specs["first"]
    _move_due(diary, first, ago=20, before=first.due_on - timedelta(days=7))
    first.note(diary.hand(19, who=0), "Rang: pearl dots instead of the side dots, and he can wait a week for them.")
    for ago, most in ((28, -1), (24, 2), (20, 2), (15, 6), (9, 4), (4, 3), (1, 3), (0, 3)):
        _forecast(diary, first, ago, diary.day(-most))
    classical: Build = specs["classical"]
    classical.note(diary.hand(7, who=1), "Told Linnet that it will be next week.")
    for ago, most in ((30, -8), (14, -4), (7, 2), (0, 4)):
        _forecast(diary, classical, ago, diary.day(-most))
    _forecast(diary, specs["bass"], 0, diary.day(-9))
    waiting: Build = specs["shelf"]
    waiting.hold(diary.hand(3, who=0), waiting.version, "Which colour of pick-ups: Wren asks the dealer on Friday.")


def _move_due(diary: Diary, build: Build, *, ago: int, before: date) -> None:
    hand, days = diary.hand(ago, who=0), [before.isoformat(), build.due_on.isoformat()]
    BuildEntry(build=build, kind=BuildKind.CHANGED, at=hand.at, by=hand.by, changes={"due_on": days}).save()


def _forecast(diary: Diary, build: Build, ago: int, most: date) -> None:
    dates = {str(share): (most + timedelta(days=days)).isoformat() for share, days in _SPREAD.items()}
    KeptForecast.objects.create(build=build, made_on=diary.day(ago), dates=dates)
