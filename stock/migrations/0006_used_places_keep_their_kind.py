"""The database itself refuses to turn a place that was used, or a built-in one, into another kind.

Its past would turn with it: what lay outside the walls would lie inside, below nothing.
"""

from django.db import migrations

REFUSAL = "A place that was used keeps its kind; add another place instead."
TURNED = "NEW.kind <> OLD.kind OR (OLD.code <> '' AND NEW.code <> OLD.code)"
USED = "OLD.code <> '' OR EXISTS (SELECT 1 FROM stock_balance AS b WHERE b.place_id = OLD.id)"


def forbid(apps, schema_editor):
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute(
            f"CREATE TRIGGER stock_place_keeps_kind BEFORE UPDATE ON stock_place "
            f"WHEN ({TURNED}) AND ({USED}) BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        )
    elif schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            f"CREATE OR REPLACE FUNCTION stock_place_keep_kind() RETURNS trigger LANGUAGE plpgsql "
            f"AS $$ BEGIN IF ({TURNED}) AND ({USED}) THEN RAISE EXCEPTION '{REFUSAL}' "
            f"USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN NEW; END $$"
        )
        schema_editor.execute(
            "CREATE TRIGGER stock_place_keeps_kind BEFORE UPDATE ON stock_place "
            "FOR EACH ROW EXECUTE FUNCTION stock_place_keep_kind()"
        )


def allow(apps, schema_editor):
    if schema_editor.connection.vendor == "sqlite":
        schema_editor.execute("DROP TRIGGER IF EXISTS stock_place_keeps_kind")
    elif schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("DROP TRIGGER IF EXISTS stock_place_keeps_kind ON stock_place")
        schema_editor.execute("DROP FUNCTION IF EXISTS stock_place_keep_kind()")


class Migration(migrations.Migration):
    dependencies = [("stock", "0005_place_constraints")]

    operations = [migrations.RunPython(forbid, allow, elidable=False)]
