"""What was named before this change stands in its order too."""

from django.db import migrations

from workshop.letters import sorting_key


def sort_names(apps, schema_editor):
    for name in ("Customer", "StrandDesign"):
        model = apps.get_model("orders", name)
        for pk, own in model.objects.order_by().values_list("pk", "name"):
            model.objects.filter(pk=pk).update(sorts_as=sorting_key(own))


class Migration(migrations.Migration):

    dependencies = [
        ("orders", "0044_names_in_the_order_of_letters"),
    ]

    operations = [migrations.RunPython(sort_names, migrations.RunPython.noop, elidable=True)]
