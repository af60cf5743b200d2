"""A pattern for each kind of paper, with what stood before the numbers of its series."""

from django.db import migrations

USUAL = {
    "quote": "Q-",
    "invoice": "INV-",
    "credit": "CN-",
    "receipt": "R-",
    "refund": "RF-",
    "opening": "BF-",
    "pay": "PAY-",
    "payout": "C-",
}


def to_patterns(apps, schema_editor):
    sequences = apps.get_model("workshop", "NumberSequence").objects.order_by("year")
    prefixes = USUAL | dict(sequences.filter(kind__in=USUAL).values_list("kind", "prefix"))
    pattern = apps.get_model("workshop", "NumberPattern")
    for kind, prefix in prefixes.items():
        pattern.objects.update_or_create(kind=kind, defaults={"prefix": prefix})


def to_prefixes(apps, schema_editor):
    sequences = apps.get_model("workshop", "NumberSequence").objects
    prefixes = USUAL | dict(
        apps.get_model("workshop", "NumberPattern").objects.values_list("kind", "prefix")
    )
    for kind, prefix in prefixes.items():
        sequences.filter(kind=kind).update(prefix=prefix)


class Migration(migrations.Migration):
    dependencies = [("workshop", "0027_number_pattern")]

    operations = [migrations.RunPython(to_patterns, to_prefixes)]
