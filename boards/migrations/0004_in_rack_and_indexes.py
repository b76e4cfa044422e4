from django.db import migrations, models


def see_what_lies_in_the_rack(apps, schema_editor):
    """Nothing is done on it yet, or it is free again; what is scrapped lies nowhere."""
    Blank = apps.get_model("boards", "Blank")
    elsewhere = []
    for pk, done, build, pattern, condition in Blank.objects.values_list(
        "pk", "done", "build_id", "pattern_id", "condition"
    ).iterator():
        if condition == "scrapped" or (done and (build or pattern)):
            elsewhere.append(pk)
    for start in range(0, len(elsewhere), 500):
        Blank.objects.filter(pk__in=elsewhere[start : start + 500]).update(in_rack=False)


class Migration(migrations.Migration):
    dependencies = [
        ("boards", "0003_gauged"),
    ]

    operations = [
        migrations.AddField(
            model_name="blank",
            name="in_rack",
            field=models.BooleanField(default=True),
        ),
        migrations.RunPython(see_what_lies_in_the_rack, migrations.RunPython.noop),
        migrations.AddIndex(
            model_name="blank",
            index=models.Index(fields=["in_rack", "received_on", "number"], name="blank_by_rack"),
        ),
        migrations.AddIndex(
            model_name="blank",
            index=models.Index(fields=["condition", "number"], name="blank_by_condition"),
        ),
        migrations.AddIndex(
            model_name="logentry",
            index=models.Index(fields=["at", "id"], name="log_by_time"),
        ),
        migrations.AddIndex(
            model_name="logentry",
            index=models.Index(fields=["kind", "stage", "at"], name="log_by_bench"),
        ),
        migrations.AddIndex(
            model_name="logentry",
            index=models.Index(fields=["kind", "to_stage", "at"], name="log_by_what_is_next"),
        ),
    ]
