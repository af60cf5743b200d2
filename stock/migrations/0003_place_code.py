"""The places every workshop has are known by a code, whatever they are called."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("stock", "0002_book_is_append_only")]

    operations = [
        migrations.AddField(
            model_name="place",
            name="code",
            field=models.CharField(blank=True, default="", editable=False, max_length=20),
            preserve_default=False,
        ),
    ]
