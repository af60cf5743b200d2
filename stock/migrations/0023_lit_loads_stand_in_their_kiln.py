"""Of the loads that are lit in a kiln, the last one put in stands in it; a pierced one is out."""

from django.db import migrations


def fill(apps, schema_editor):
    KilnLoad = apps.get_model("stock", "KilnLoad")
    lit = KilnLoad.objects.filter(state="firing").order_by("kiln_id", "started_at", "number")
    last = {load.kiln_id: load for load in lit}
    inside = [load.pk for load in last.values() if load.pierced_until is None]
    KilnLoad.objects.filter(pk__in=inside).update(in_kiln=True)


class Migration(migrations.Migration):
    dependencies = [("stock", "0022_load_stands_in_the_kiln")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=False)]
