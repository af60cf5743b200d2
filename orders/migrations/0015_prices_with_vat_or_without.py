"""Orders and prices say whether they are told with VAT; customers, how they see prices."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("orders", "0014_payments_on_account")]

    operations = [
        migrations.AddField(
            "order", "prices_with_tax",
            models.BooleanField(default=False, editable=False, verbose_name="prices include VAT"),
        ),
        migrations.AddField(
            "orderline", "tax_name",
            models.CharField(blank=True, default="", editable=False, max_length=60, verbose_name="VAT rate"),
            preserve_default=False,
        ),
        migrations.AddField(
            "customer", "prices_shown",
            models.CharField(blank=True, choices=[("", "as their group"), ("gross", "with VAT"), ("net", "without VAT")], default="", max_length=5, verbose_name="sees prices"),
        ),
        migrations.AddField(
            "designprice", "with_tax",
            models.BooleanField(default=False, editable=False, verbose_name="VAT included"),
        ),
    ]
