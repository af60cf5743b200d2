"""Each group of customers is told prices with VAT or without; walk-ins with it at first."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("workshop", "0012_moulds_serve_several_shapes")]

    operations = [
        migrations.AddField(
            "business", "with_tax_trader",
            models.BooleanField(default=False, verbose_name="traders see prices with VAT"),
        ),
        migrations.AddField(
            "business", "with_tax_shop",
            models.BooleanField(default=False, verbose_name="shops see prices with VAT"),
        ),
        migrations.AddField(
            "business", "with_tax_walk_in",
            models.BooleanField(
                default=True,
                help_text="Prices to consumers are final prices, VAT included, in many countries.",
                verbose_name="walk-ins see prices with VAT",
            ),
        ),
        migrations.AddField(
            "business", "account_invoices",
            models.CharField(
                choices=[("all", "everybody"), ("business", "traders and shops only")],
                default="all",
                help_text="Others get a receipt. Ask your adviser what the law of your country wants.",
                max_length=8,
                verbose_name="invoices for payments on account go to",
            ),
        ),
    ]
