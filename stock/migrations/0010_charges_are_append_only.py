"""Charges are part of the book: the database itself refuses to edit or delete them."""

from django.db import migrations

TABLE = "stock_charge"
REFUSAL = "What was posted is never edited or deleted; reverse it by a new posting."


def forbid(apps, schema_editor):
    if schema_editor.connection.vendor == "sqlite":
        for act in ("UPDATE", "DELETE"):
            schema_editor.execute(
                f"CREATE TRIGGER {TABLE}_no_{act.lower()} BEFORE {act} ON {TABLE} "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
    elif schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            f"CREATE OR REPLACE FUNCTION {TABLE}_refuse() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation'; "
            f"END $$"
        )
        schema_editor.execute(
            f"CREATE TRIGGER {TABLE}_append_only BEFORE UPDATE OR DELETE ON {TABLE} "
            f"FOR EACH ROW EXECUTE FUNCTION {TABLE}_refuse()"
        )


def allow(apps, schema_editor):
    if schema_editor.connection.vendor == "sqlite":
        for act in ("update", "delete"):
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {TABLE}_no_{act}")
    elif schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(f"DROP TRIGGER IF EXISTS {TABLE}_append_only ON {TABLE}")
        schema_editor.execute(f"DROP FUNCTION IF EXISTS {TABLE}_refuse()")


class Migration(migrations.Migration):
    dependencies = [("stock", "0009_charges")]

    operations = [migrations.RunPython(forbid, allow, elidable=False)]
