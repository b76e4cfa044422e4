import django.core.validators
from django.db import migrations, models
from django.db.models import F


def minutes(name, default, help_text=""):
    return models.PositiveSmallIntegerField(
        default=default,
        help_text=help_text,
        validators=[django.core.validators.MaxValueValidator(600)],
        verbose_name=name,
    )


def as_before(apps, schema_editor):
    """Let the pieces of the jig take what the shop has written down for any of them, if it has."""
    written_down = apps.get_model("shop", "Shop").objects.exclude(former_minutes=10)
    written_down.update(riser_minutes=F("former_minutes"), cutter_minutes=F("former_minutes"))


class Migration(migrations.Migration):
    dependencies = [
        ("shop", "0011_what_was_sent"),
    ]

    operations = [
        migrations.RenameField("shop", "changeover_minutes", "former_minutes"),
        migrations.AlterField(
            "shop", "former_minutes", minutes("a former", 10, "Each end of the radius jig by itself.")
        ),
        migrations.AddField("shop", "riser_minutes", minutes("the riser", 5)),
        migrations.AddField("shop", "cutter_minutes", minutes("the jig's cutter", 5)),
        migrations.RunPython(as_before, migrations.RunPython.noop),
        migrations.AddField(
            "shop",
            "depth_minutes",
            minutes("the cutter's depth", 5, "Set and proved on the waste strip; anew after any of these."),
        ),
        migrations.AddField("shop", "scale_minutes", minutes("the saw's scale", 5, "Its template or stops.")),
        migrations.AddField(
            "shop",
            "slot_depth_minutes",
            minutes("the slot depth", 5, "Proved on waste; anew after a change of the blade."),
        ),
        migrations.AddField("shop", "blade_minutes", minutes("the saw's blade", 10)),
        migrations.AddField("shop", "thickness_minutes", minutes("the thickness", 5)),
        migrations.AddField("shop", "template_minutes", minutes("the taper's template", 5)),
        migrations.AddField("shop", "cauls_minutes", minutes("the cauls", 5)),
        migrations.AddField(
            "shop",
            "clamps",
            models.PositiveSmallIntegerField(
                default=2,
                help_text="As many as there are clamps and cauls for.",
                validators=[
                    django.core.validators.MinValueValidator(1),
                    django.core.validators.MaxValueValidator(100),
                ],
                verbose_name="boards clamped at once",
            ),
        ),
        migrations.AddField("shop", "clamp_minutes", minutes("minutes in the clamps", 60, "Until they may come off.")),
        migrations.AddConstraint(
            "shop", models.CheckConstraint(condition=models.Q(clamps__gt=0), name="shop_has_clamps")
        ),
    ]
