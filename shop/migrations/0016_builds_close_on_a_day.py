from django.db import migrations, models


class Migration(migrations.Migration):
    # By itself: PostgreSQL adds no constraint to a table that was written in the same transaction.
    dependencies = [
        ("shop", "0015_life_of_a_build"),
    ]

    operations = [
        migrations.AddConstraint(
            model_name="build",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    models.Q(("closed_on", None), ("state__in", ("open", "held"))),
                    models.Q(("closed_on__isnull", False), ("state__in", ("delivered", "cancelled"))),
                    _connector="OR",
                ),
                name="build_closes_on_a_day",
            ),
        ),
        migrations.AddConstraint(
            model_name="build",
            constraint=models.CheckConstraint(condition=models.Q(("boards_wanted__gt", 0)), name="build_wants_a_board"),
        ),
        migrations.AddConstraint(
            model_name="build",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("goes_with", None), models.Q(("goes_with", models.F("id")), _negated=True), _connector="OR"
                ),
                name="build_goes_with_another",
            ),
        ),
    ]
