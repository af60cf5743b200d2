"""Models by their standard names; the tables keep the names under which the triggers know them."""

from importlib import import_module

from django.db import migrations, models

# Its trigger reads the balances, and SQLite makes no table anew that a trigger reads.
kept_kind = import_module("stock.migrations.0006_used_places_keep_their_kind")


class Migration(migrations.Migration):
    dependencies = [('stock', '0011_name_old_values')]

    operations = [
        migrations.RunPython(kept_kind.allow, kept_kind.forbid),
        migrations.AlterModelTable("Place", table="stock_place"),
        migrations.RenameModel("Place", "StockLocation"),
        migrations.RemoveIndex("movement", "movement_into_heap"),
        migrations.RemoveIndex("movement", "movement_out_of_heap"),
        migrations.RenameField("movement", "gone_before", "cumulative_out"),
        migrations.RenameField("movement", "come_before", "cumulative_in"),
        migrations.AddIndex("movement", models.Index(fields=["item", "to_place", "cumulative_in"], name="movement_into_heap")),
        migrations.AddIndex("movement", models.Index(fields=["item", "from_place", "cumulative_out"], name="movement_out_of_heap")),
        migrations.RemoveConstraint("balance", "balance_holds_no_more_than_there_is"),
        migrations.RenameField("balance", "held", "reserved"),
        migrations.AddConstraint("balance", models.CheckConstraint(condition=models.Q(reserved=0) | (models.Q(inside=True) & models.Q(reserved__gte=0) & models.Q(reserved__lte=models.F("quantity"))), name="balance_holds_no_more_than_there_is")),
        migrations.RunPython(kept_kind.forbid, kept_kind.allow),
    ]
