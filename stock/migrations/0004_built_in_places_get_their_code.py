"""The first place of each kind is every workshop's own; the bench has one for each step."""

from django.db import migrations

SPOTS = ("moulded", "out of the kiln", "to paint")


def give_codes(apps, schema_editor):
    Place = apps.get_model("stock", "Place")
    known = set(Place.objects.exclude(code="").values_list("code", flat=True))
    for place in Place.objects.filter(code="").order_by("pk"):
        code = place.kind
        if place.kind == "bench":
            code = place.name if place.name in SPOTS else ""
        if code and code not in known:
            place.code = code
            place.save(update_fields=["code"])
            known.add(code)


class Migration(migrations.Migration):
    dependencies = [("stock", "0003_place_code")]

    operations = [migrations.RunPython(give_codes, migrations.RunPython.noop, elidable=True)]
