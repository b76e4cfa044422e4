from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("shop", "0013_hours")]

    operations = [
        migrations.AddField("species", "version", models.PositiveIntegerField(default=0, editable=False)),
    ]
