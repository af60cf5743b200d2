"""Each step that a rate is written for becomes a row."""

from django.db import migrations


def fill(apps, schema_editor):
    names = apps.get_model("workshop", "LabourRate").objects.order_by("step")
    WorkStep = apps.get_model("workshop", "WorkStep")
    WorkStep.objects.bulk_create(
        [WorkStep(name=name) for name in names.values_list("step", flat=True).distinct()],
        ignore_conflicts=True,
    )


class Migration(migrations.Migration):
    dependencies = [("workshop", "0019_steps_of_the_work")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
