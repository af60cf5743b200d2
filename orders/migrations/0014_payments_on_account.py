"""Invoices for payments on account, and what of them a final invoice took off."""

from importlib import import_module

import workshop.models.fields
from django.db import migrations, models

frozen = import_module("orders.migrations.0002_papers_are_frozen")

# SQLite makes a table anew for a column, and its triggers go; on PostgreSQL they do not know the
# new columns. What may move of a payment on account is how much of it was used.
MOVES = {
    "orders_paper": {"settled"},
    "orders_paperline": {"credited_quantity", "credited_net", "credited_gross"},
}


def thaw(apps, schema_editor):
    on_table = schema_editor.connection.vendor == "postgresql"
    for table in MOVES:
        for act in ("update", "delete"):
            where = f" ON {table}" if on_table else ""
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}_no_{act}{where}")


def freeze(apps, schema_editor):
    vendor = schema_editor.connection.vendor
    for table, moves in MOVES.items():
        with schema_editor.connection.cursor() as cursor:
            found = schema_editor.connection.introspection.get_table_description(cursor, table)
        kept = ", ".join(f'"{column.name}"' for column in found if column.name not in moves)
        for act in (f"UPDATE OF {kept}", "DELETE"):
            name = f"{table}_no_{act.split()[0].lower()}"
            if vendor == "sqlite":
                does = f"BEGIN SELECT RAISE(ABORT, '{frozen.REFUSAL}'); END"
            elif vendor == "postgresql":
                does = "FOR EACH ROW EXECUTE FUNCTION orders_refuse()"
            schema_editor.execute(f"CREATE TRIGGER {name} BEFORE {act} ON {table} {does}")


class Migration(migrations.Migration):
    dependencies = [("orders", "0013_stall_days")]

    operations = [
        migrations.RunPython(thaw, freeze, elidable=False),
        migrations.AddField(
            "document", "on_account",
            models.BooleanField(default=False, verbose_name="for a payment on account"),
        ),
        migrations.AddConstraint(
            "document",
            models.CheckConstraint(
                condition=models.Q(on_account=False) | models.Q(kind="invoice", order__isnull=False),
                name="paper_on_account_is_an_invoice",
            ),
        ),
        migrations.AddField(
            "documentline", "gross",
            workshop.models.fields.MoneyField(default=0, verbose_name="received"),
        ),
        migrations.AddField(
            "documentline", "credited_gross", workshop.models.fields.MoneyField(default=0)
        ),
        migrations.AlterField(
            "documentline", "role",
            models.CharField(choices=[("goods", "goods"), ("discount", "discount"), ("carriage", "carriage"), ("account", "payment on account"), ("off", "payment on account, taken off")], default="goods", max_length=8),
        ),
        migrations.AddConstraint(
            "documentline",
            models.CheckConstraint(
                condition=models.Q(credited_gross__gte=0)
                & models.Q(credited_gross__lte=models.F("gross")),
                name="paper_line_received_used_within",
            ),
        ),
        migrations.RunPython(freeze, thaw, elidable=False),
    ]
