from django.db import migrations, models
from django.db.models.functions import Upper


class Migration(migrations.Migration):
    dependencies = [("boards", "0013_batches")]

    operations = [
        migrations.AddIndex(
            model_name="blank",
            index=models.Index(Upper("lot"), name="blank_by_lot_in_capitals"),
        ),
    ]
