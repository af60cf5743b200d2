"""What stands in the book already is found by its words."""

from django.db import migrations

from workshop.models import FoundBy
from workshop.search import write_parts

FOUND_BY = {
    ("orders", "Customer"): FoundBy(
        parts=("name", "email", "tax_number"), digits=("phone", "tax_number")
    ),
    ("orders", "Order"): FoundBy(words=("note",)),
    ("orders", "StrandDesign"): FoundBy(parts=("name", "code")),
    ("orders", "Document"): FoundBy(words=("number",)),
    ("orders", "Payment"): FoundBy(words=("reference",)),
    ("stock", "Bead"): FoundBy(parts=("name",)),
    ("stock", "Collector"): FoundBy(parts=("name",), digits=("phone",)),
}


def write(apps, schema_editor):
    parts = apps.get_model("workshop", "SearchPart")
    parts.objects.all().delete()
    for (app, name), found_by in FOUND_BY.items():
        write_parts(apps.get_model(app, name), parts, found_by)


class Migration(migrations.Migration):
    dependencies = [
        ("orders", "0037_designs_worn_on_a_size"),
        ("stock", "0032_supplies_are_stock"),
        ("workshop", "0031_parts_of_words_to_be_found_by"),
    ]

    operations = [migrations.RunPython(write, migrations.RunPython.noop, elidable=True)]
