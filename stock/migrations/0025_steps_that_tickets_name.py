"""Each step that a ticket tells of becomes a row, also where no rate names it any more."""

from django.db import migrations


def fill(apps, schema_editor):
    names = apps.get_model("stock", "WorkTicket").objects.order_by("step")
    WorkStep = apps.get_model("workshop", "WorkStep")
    WorkStep.objects.bulk_create(
        [WorkStep(name=name) for name in names.values_list("step", flat=True).distinct()],
        ignore_conflicts=True,
    )


class Migration(migrations.Migration):
    dependencies = [
        ("stock", "0024_one_load_in_a_kiln"),
        ("workshop", "0019_steps_of_the_work"),
    ]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
