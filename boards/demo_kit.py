"""The kit of the demo's shop: a jig with its formers, cutters, sanding blocks."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from django.utils import timezone

from geometry.former import former_for
from shop.models import Cutter, Former, Hand, Jig, SandingBlock, Shop, Week

# Name, radius that it cuts in inches, pieces, where it hangs.
FORMERS = (
    ("7 1/4", "7.25", 2, "Wall, left of the jig"),
    ("9 1/2", "9.5", 2, "Wall, left of the jig"),
    ("10", "10", 2, "Wall, left of the jig"),
    ("12", "12", 2, "Wall, right of the jig"),
    ("14", "14", 2, "Wall, right of the jig"),
    ("16", "16", 2, "Wall, right of the jig"),
    ("20", "20", 2, "Drawer under the bed"),
)
BLOCKS = (("Block 10", "254", "200"), ("Block 12", "304.8", "200"), ("Long block 16", "406.4", "450"))
# What an hour costs, in a money of the demo's own; nobody has said yet what gluing does.
HOUR = {"thicknessing_rate": 38, "slotting_rate": 42, "radiusing_rate": 45, "tapering_rate": 38}
THICKNESS = 6.15  # mm: of a 6 mm board before its final sanding


def fill_kit(hand: Hand) -> Jig:
    """Give an empty shop its kit, as it stood when `hand` put it there."""
    day = timezone.localdate(hand.at)
    jig = Jig(
        name="Long jig",
        span=Decimal(900),
        rail_spacing=Decimal(120),
        rail_diameter=Decimal(20),
        rail_plane=Decimal(110),
        riser=Decimal(30),
        rule_zero=Decimal(50),
        hole_spacing=Decimal(100),
        hole_diameter=Decimal("6.5"),
        hole_height=Decimal(20),
        remarks="Birch ply bed, ground steel rails.",
    )
    jig.full_clean()
    jig.save()
    formers = {}
    for name, inches, count, place in FORMERS:
        radius, apex = former_for(jig.as_request(), float(inches) * 25.4, THICKNESS)
        formers[name] = Former(jig=jig, name=name, count=count, place=place, made_on=day - timedelta(days=20))
        formers[name].radius, formers[name].apex = (Decimal(f"{length:.2f}") for length in (radius, apex))
        formers[name].full_clean()
        formers[name].save()
    cutter = Cutter.objects.get(name="Flat 16 mm")
    cutter.sharpened_on, cutter.minutes_since_sharpening = day, Decimal(95)
    cutter.save()
    Cutter.objects.create(
        name="Flat 25 mm", diameter=Decimal(25), max_depth=Decimal(2), sharpened_on=day, remarks="For maple."
    )
    for name, mm, length in BLOCKS:
        SandingBlock.objects.create(name=name, radius=Decimal(mm), length=Decimal(length), place="Bench drawer")
    jig.stand(hand, jig.version, head=formers["12"], heel=formers["12"], riser_in=True, cutter=cutter)
    Shop.objects.update(jig=jig, cutter=cutter)
    Week.objects.update_or_create(pk=1, defaults={"money": "crowns", **HOUR})
    return jig
