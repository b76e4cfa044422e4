"""What tests make: each function gives one thing that is whole, with whatever the test is about changed."""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django.utils import timezone

from boards.figures import worked
from boards.models import Blank, receive_box
from boards.readings import targets
from geometry.former import former_for
from shop.models import Build, Former, FretWire, Hand, Jig, Pattern, Route, Shop, Spec, Species, User
from shop.stages import STAGES

BY_THE_BOOK = ["thicknessing", "slotting", "radiusing", "tapering", "gluing"]
ON_NECK = ["thicknessing", "slotting", "tapering", "gluing", "radiusing"]


def make_user(username: str = "maker", **changes: Any) -> User:
    return User.objects.create_user(username, **{"password": "a-long-enough-one", **changes})


def make_hand(by: User | None = None, at: datetime | None = None, **more: Any) -> Hand:
    by = by or User.objects.filter(username="maker").first() or make_user()
    return Hand(by, at or timezone.now(), **more)


def make_species(name: str = "Pear, steamed", **changes: Any) -> Species:
    return Species.objects.get_or_create(name=name, defaults=changes)[0]


def make_wire(name: str = "Tang 1.5", **changes: Any) -> FretWire:
    values = {"tang": Decimal("1.5"), "kerf": Decimal("0.55"), **changes}
    return FretWire.objects.get_or_create(name=name, defaults=values)[0]


def make_route(stages: list[str] | None = None, name: str = "") -> Route:
    stages = stages or BY_THE_BOOK
    name = name or "-".join(stage[:4] for stage in stages)
    return Route.objects.get_or_create(name=name, defaults={"stages": stages})[0]


def spec_values(**changes: Any) -> dict[str, Any]:
    """A six-string board, 648 scale, 12 in radius: it needs a blank of about 519 x 63 x 7.1."""
    return {
        "scale": Decimal(648),
        "frets": 22,
        "nut_width": Decimal(43),
        "heel_width": Decimal(57),
        "thickness": Decimal(6),
        "radius_nut": Decimal("304.8"),
        "radius_heel": Decimal("304.8"),
        "wire": changes.get("wire") or make_wire(),
        "route": changes.get("route") or make_route(),
        **changes,
    }


def _save(spec: Spec) -> Any:
    spec.full_clean()
    spec.save()
    return spec


def make_pattern(name: str = "Lark", **changes: Any) -> Pattern:
    return _save(Pattern(name=name, **spec_values(**changes)))


def make_build(number: str = "B901", **changes: Any) -> Build:
    if changes.get("closed_on"):
        changes.setdefault("state", "delivered")
    return _save(Build(number=number, title=changes.pop("title", "Lark, six strings"), **spec_values(**changes)))


def make_blanks(how_many: int = 1, *, hand: Hand | None = None, **changes: Any) -> list[Blank]:
    """Blanks that fit the board of `spec_values`, long enough in the shop."""
    values = {
        "species": changes.get("species") or make_species(),
        "length": Decimal(530),
        "width": Decimal(70),
        "thickness": Decimal("8.5"),
        "received_on": timezone.localdate() - timedelta(days=90),
        **changes,
    }
    return receive_box(alike=Blank(**values), how_many=how_many, hand=hand or make_hand())


def make_blank(
    spec: Build | Pattern | None = None, *, done: int = 0, hand: Hand | None = None, **changes: Any
) -> Blank:
    """One blank, put to a spec and brought through so many of its stages."""
    hand = hand or make_hand()
    (blank,) = make_blanks(hand=hand, **changes)
    if spec:
        blank.put_to(hand, blank.version, spec)
    for _ in range(done):
        blank.finish(hand, blank.version, blank.next_stage, good_readings(blank))
    return blank


def good_readings(blank: Blank, **changes: Any) -> dict[str, Decimal]:
    """Readings of the stage that a blank waits for, all as they should be."""
    shop = Shop.current()
    board = worked(blank, shop)
    asked = targets(blank.next_stage, blank, board.request, board.result, shop)
    readings = {target.key: Decimal(f"{target.value:.2f}") for target in asked}
    return {name: value for name, value in {**readings, **changes}.items() if value is not None}


def tap(**changes: Any) -> dict[str, Any]:
    """What a form carries that is pressed once."""
    return {"tap": str(uuid.uuid4()), **changes}


def press(blank: Blank, **typed: Any) -> dict[str, Any]:
    """What a form about a blank carries, as the person sees the blank now."""
    return tap(seen=blank.version, **typed)


def days_ago(days: int) -> date:
    return timezone.localdate() - timedelta(days=days)


def make_jig(name: str = "Bench jig", **changes: Any) -> Jig:
    """A jig of a usual size; its rails lie 110 above the bed."""
    values = {"span": 900, "rail_spacing": 120, "rail_diameter": 20, "rail_plane": 110, "riser": 30, **changes}
    jig = Jig(name=name, **{key: Decimal(str(v)) if isinstance(v, int | float) else v for key, v in values.items()})
    jig.full_clean()
    jig.save()
    return jig


def make_former(jig: Jig, name: str = "10", cuts: float = 254, **changes: Any) -> Former:
    """A former of which two cut a radius into a board 6.15 mm thick, with the rails at the jig's plane."""
    radius, apex = (Decimal(f"{length:.6f}") for length in former_for(jig.as_request(), cuts, 6.15))
    former = Former(jig=jig, name=name, **{"radius": radius, "apex": apex, "count": 2, **changes})
    former.full_clean()
    former.save()
    return former


def counts() -> dict[str, int]:
    """How many boards come up at each bench; benches without any are left out."""
    ready = {stage: Blank.objects.ready_for(stage).count() for stage in STAGES}
    return {stage: boards for stage, boards in ready.items() if boards}
