"""Lines of the log name what they are about by its standard name, as new lines do."""

from django.db import migrations

NAMES = {
    "paper": "document",
    "paperseries": "numbersequence",
    "paymentshare": "paymentallocation",
    "allocation": "stockreservation",
    "place": "stocklocation",
    "beadjob": "workorder",
}


def rename(apps, names):
    entries = apps.get_model("workshop", "AuditEntry").objects
    for old, new in names.items():
        entries.filter(subject_kind=old).update(subject_kind=new)


def forwards(apps, schema_editor):
    rename(apps, NAMES)


def backwards(apps, schema_editor):
    rename(apps, {new: old for old, new in NAMES.items()})


class Migration(migrations.Migration):
    dependencies = [("workshop", "0007_standard_names")]

    operations = [migrations.RunPython(forwards, backwards)]
