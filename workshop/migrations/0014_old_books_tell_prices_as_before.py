"""A book that exists goes on telling everybody prices with VAT, or everybody without it."""

from django.db import migrations


def as_before(apps, schema_editor):
    for business in apps.get_model("workshop", "Business").objects.all():
        told = business.prices_include_tax
        type(business).objects.update(
            with_tax_trader=told, with_tax_shop=told, with_tax_walk_in=told
        )


def back(apps, schema_editor):
    for business in apps.get_model("workshop", "Business").objects.all():
        type(business).objects.update(prices_include_tax=business.with_tax_trader)


class Migration(migrations.Migration):
    dependencies = [("workshop", "0013_who_sees_vat")]

    operations = [migrations.RunPython(as_before, back, elidable=False)]
