"""What was said when a form was taken, for a phone that never heard it."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workshop", "0032_photographs")]

    operations = [
        migrations.AddField(
            "idempotencykey", "said", models.TextField(blank=True, db_default="", default="")
        )
    ]
