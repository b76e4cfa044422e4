"""What an empty shop starts with: woods, fret wire, cutters, routes and number series. All of it can be changed."""

from datetime import date
from decimal import Decimal

from django.db import migrations

AS_OF = date(2026, 11, 25)

# Coefficients per 1 % of moisture, valid for 6-14 %. Where no handbook value was found they stay empty.
TABLE = "Wood Handbook (USDA FPL-GTR-190, 2010), Table 13-5"
FORMULA = "From the shrinkage in {} by C = S / (3000 - 20 S)"
FLOORING = "Flooring trade publication A200, p. 7, which credits Agr. Handbook 72 (1987)"

ROSEWOOD = (
    "All rosewoods (Dalbergia) are in CITES Appendix II since 2 January 2017, annotation #15. Finished instruments and "
    "finished parts are exempt; a blank is not obviously a finished part."
)
SENSITISER = "Its dust is known to sensitise skin and airways (common practice, no source)."

# name, botanical name, radial, tangential, source, trade control, dust
WOODS = [
    ("Ebony, African", "Diospyros crassiflora", None, None, "", "", SENSITISER),
    (
        *("Ebony, Madagascar", "Diospyros", None, None, ""),
        "Ebony from Madagascar is in CITES Appendix II for logs, sawn wood and veneer since 2013 (from memory).",
        SENSITISER,
    ),
    (
        *("Rosewood, Indian", "Dalbergia latifolia", "0.00092", "0.00201"),
        FORMULA.format("the FPL fact sheet, after Chudnoff, Agr. Handbook 607 (1984)"),
        ROSEWOOD,
        SENSITISER,
    ),
    (
        *("Rosewood, Brazilian", "Dalbergia nigra", None, None, ""),
        "CITES Appendix I since 1992: trade is all but forbidden, and the exemption for finished instruments does not "
        "cover it.",
        SENSITISER,
    ),
    ("Maple, hard", "Acer saccharum", "0.00165", "0.00353", TABLE, "", ""),
    ("Walnut, black", "Juglans nigra", "0.00190", "0.00274", TABLE, "", SENSITISER),
    ("Cherry, black", "Prunus serotina", "0.00126", "0.00248", TABLE, "", ""),
    ("Persimmon", "Diospyros virginiana", "0.00278", "0.00403", TABLE, "", ""),
    ("Pau ferro", "Machaerium scleroxylon", None, None, "", "", SENSITISER),
    ("Wenge", "Millettia laurentii", None, "0.00201", FLOORING, "", SENSITISER),
    ("Purpleheart", "Peltogyne", None, "0.00212", FLOORING, "", ""),
    (
        *("Padauk, African", "Pterocarpus soyauxii", None, "0.00180", FLOORING),
        "African populations of Pterocarpus are in CITES Appendix II, annotation #17 (date from memory: 23 February 2023).",
        SENSITISER,
    ),
    (
        *("Ipe", "Handroanthus", "0.00230", "0.00282", FORMULA.format("a reprint of the FPL fact sheet")),
        "CITES Appendix II since 25 November 2024 for logs, sawn wood, veneer, plywood and transformed wood.",
        SENSITISER,
    ),
]

ROUTES = [
    ("Slots before the radius", ["thicknessing", "slotting", "radiusing", "tapering", "gluing"]),
    ("Slots after the radius", ["thicknessing", "radiusing", "slotting", "tapering", "gluing"]),
    ("Radius on the neck", ["thicknessing", "slotting", "tapering", "gluing", "radiusing"]),
    ("Bought in slotted", ["thicknessing", "radiusing", "tapering", "gluing"]),
    ("Bought in radiused", ["slotting", "tapering", "gluing"]),
]


def put_in(apps, schema_editor):
    """Write the starting values."""
    species = apps.get_model("shop", "Species")
    for name, botanical, radial, tangential, source, trade, dust in WOODS:
        species.objects.create(
            name=name,
            botanical=botanical,
            c_radial=radial and Decimal(radial),
            c_tangential=tangential and Decimal(tangential),
            movement_source=source,
            trade_note=trade,
            trade_note_on=AS_OF if trade else None,
            dust_note=dust,
            dust_note_on=AS_OF if dust else None,
        )
    species.objects.create(
        name="Resin-bonded paper board",
        composite=True,
        dust_note="Its dust has no limit of its own: treat it as harmful, with extraction and a mask.",
        dust_note_on=AS_OF,
    )
    wire = apps.get_model("shop", "FretWire")
    # Common practice, no source: tang 1.4-2.0 mm, slot 0.5-0.6 mm.
    for name, tang in (("Tang 1.4", "1.4"), ("Tang 1.6", "1.6"), ("Tang 1.8", "1.8")):
        wire.objects.create(name=name, tang=Decimal(tang), kerf=Decimal("0.58"))
    cutter = apps.get_model("shop", "Cutter").objects.create(
        name="Flat 16 mm", diameter=Decimal(16), max_depth=Decimal(3)
    )
    apps.get_model("shop", "Shop").objects.create(pk=1, cutter=cutter)
    route = apps.get_model("shop", "Route")
    for place, (name, stages) in enumerate(ROUTES, start=1):
        route.objects.create(name=name, stages=stages, place=place)
    series = apps.get_model("shop", "Series")
    series.objects.create(kind="blank", prefix="F", digits=4)
    series.objects.create(kind="build", prefix="B", digits=3)


class Migration(migrations.Migration):
    dependencies = [("shop", "0001_initial")]
    operations = [migrations.RunPython(put_in, migrations.RunPython.noop)]
