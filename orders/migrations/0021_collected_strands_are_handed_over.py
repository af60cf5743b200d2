"""Of orders that were collected, all that was strung was handed over."""

from django.db import migrations
from django.db.models import F


def hand_over(apps, schema_editor):
    lines = apps.get_model("orders", "OrderLine").objects.filter(order__state="collected")
    lines.update(handed=F("strung"))


class Migration(migrations.Migration):
    dependencies = [("orders", "0020_strands_handed_over")]

    operations = [migrations.RunPython(hand_over, migrations.RunPython.noop, elidable=False)]
