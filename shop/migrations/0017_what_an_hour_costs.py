from decimal import Decimal

import django.core.validators
from django.db import migrations, models

RATES = {
    "thicknessing_rate": "an hour of thicknessing",
    "slotting_rate": "of slotting",
    "radiusing_rate": "of radiusing",
    "tapering_rate": "of tapering",
    "gluing_rate": "of gluing",
}


def rate(name: str) -> models.DecimalField:
    return models.DecimalField(
        blank=True,
        decimal_places=2,
        max_digits=9,
        null=True,
        validators=[django.core.validators.MinValueValidator(Decimal("0"))],
        verbose_name=name,
    )


class Migration(migrations.Migration):
    dependencies = [
        ("shop", "0016_builds_close_on_a_day"),
    ]

    operations = [
        migrations.AddField(
            model_name="week",
            name="money",
            field=models.CharField(
                blank=True,
                help_text="As it is to stand behind every sum. Empty: sums stand alone.",
                max_length=12,
                verbose_name="word for money",
            ),
        ),
        *(migrations.AddField(model_name="week", name=name, field=rate(words)) for name, words in RATES.items()),
        *(
            migrations.AddConstraint(
                model_name="week",
                constraint=models.CheckConstraint(
                    condition=models.Q(**{f"{name}__gte": 0}), name=f"week_{name}_is_not_negative"
                ),
            )
            for name in RATES
        ),
    ]
