"""What was named before this change stands in its order too."""

from django.db import migrations

from workshop.letters import sorting_key


def sort_names(apps, schema_editor):
    for name in ("GlassColour", "Bead", "Collector"):
        model = apps.get_model("stock", name)
        for pk, own in model.objects.order_by().values_list("pk", "name"):
            model.objects.filter(pk=pk).update(sorts_as=sorting_key(own))


class Migration(migrations.Migration):

    dependencies = [
        ("stock", "0037_names_in_the_order_of_letters"),
    ]

    operations = [migrations.RunPython(sort_names, migrations.RunPython.noop, elidable=True)]
