from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("shop", "0017_what_an_hour_costs"),
    ]

    operations = [
        migrations.CreateModel(
            name="DailyJob",
            fields=[
                ("name", models.CharField(max_length=40, primary_key=True, serialize=False)),
                ("done_on", models.DateField(blank=True, null=True)),
                ("done_at", models.DateTimeField(blank=True, null=True)),
                ("running_since", models.DateTimeField(blank=True, null=True)),
                (
                    "asked_at",
                    models.DateTimeField(blank=True, help_text="When somebody asked for it besides.", null=True),
                ),
                ("failed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "trouble",
                    models.CharField(
                        blank=True, help_text="Why it was not done the last time, in words.", max_length=300
                    ),
                ),
            ],
            options={
                "ordering": ["name"],
            },
        ),
    ]
