"""The database itself refuses to edit or delete issued papers, payments and what they settled."""

from django.db import migrations

REFUSAL = "What was issued or paid is never edited or deleted; amend it by a further paper."

# Columns that may still move, and why: an invoice gets settled, a line gets credited, a payment
# gets used.
MOVES = {
    "orders_paper": {"settled"},
    "orders_paperline": {"credited_quantity", "credited_net"},
    "orders_payment": {"unused"},
    "orders_paymentshare": set(),
    "orders_paperfile": set(),
    "orders_payslip": set(),
    "orders_paidwork": set(),
    "orders_drawercount": set(),
}


def frozen_columns(schema_editor, table):
    connection = schema_editor.connection
    with connection.cursor() as cursor:
        columns = connection.introspection.get_table_description(cursor, table)
    return [column.name for column in columns if column.name not in MOVES[table]]


def freeze(apps, schema_editor):
    vendor = schema_editor.connection.vendor
    if vendor == "postgresql":
        schema_editor.execute(
            "CREATE OR REPLACE FUNCTION orders_refuse() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = "
            "'integrity_constraint_violation'; END $$"
        )
    for table in MOVES:
        columns = ", ".join(f'"{name}"' for name in frozen_columns(schema_editor, table))
        for act in (f"UPDATE OF {columns}", "DELETE"):
            name = f"{table}_no_{act.split()[0].lower()}"
            if vendor == "sqlite":
                schema_editor.execute(
                    f"CREATE TRIGGER {name} BEFORE {act} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
                )
            elif vendor == "postgresql":
                schema_editor.execute(
                    f"CREATE TRIGGER {name} BEFORE {act} ON {table} "
                    "FOR EACH ROW EXECUTE FUNCTION orders_refuse()"
                )


def thaw(apps, schema_editor):
    vendor = schema_editor.connection.vendor
    for table in MOVES:
        for act in ("update", "delete"):
            where = f" ON {table}" if vendor == "postgresql" else ""
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}_no_{act}{where}")
    if vendor == "postgresql":
        schema_editor.execute("DROP FUNCTION IF EXISTS orders_refuse()")


class Migration(migrations.Migration):
    dependencies = [("orders", "0001_initial")]

    operations = [migrations.RunPython(freeze, thaw, elidable=False)]
