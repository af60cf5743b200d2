"""The database itself refuses to edit or delete what was posted."""

from django.db import migrations

TABLES = ("stock_posting", "stock_movement", "stock_payout")
REFUSAL = "What was posted is never edited or deleted; reverse it by a new posting."


def forbid(apps, schema_editor):
    for table in TABLES:
        if schema_editor.connection.vendor == "sqlite":
            for act in ("UPDATE", "DELETE"):
                schema_editor.execute(
                    f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
                )
        elif schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"CREATE OR REPLACE FUNCTION {table}_refuse() RETURNS trigger LANGUAGE plpgsql AS "
                f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation'; "
                f"END $$"
            )
            schema_editor.execute(
                f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE ON {table} "
                f"FOR EACH ROW EXECUTE FUNCTION {table}_refuse()"
            )


def allow(apps, schema_editor):
    for table in TABLES:
        if schema_editor.connection.vendor == "sqlite":
            for act in ("update", "delete"):
                schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}_no_{act}")
        elif schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}_append_only ON {table}")
            schema_editor.execute(f"DROP FUNCTION IF EXISTS {table}_refuse()")


class Migration(migrations.Migration):
    dependencies = [("stock", "0001_initial")]

    operations = [migrations.RunPython(forbid, allow, elidable=False)]
