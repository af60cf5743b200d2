"""A mark that moves whenever what stands in the book changes: see `workshop/standing.py`.

Its table is no model: nothing but the database's own triggers, made after each migration, and
`standing.py` know it.
"""

from django.db import migrations

TABLE = "workshop_standingmark"


def make(apps, schema_editor):
    schema_editor.execute(
        f"CREATE TABLE {TABLE} (id integer PRIMARY KEY CHECK (id = 1), key varchar(36) NOT NULL)"
    )
    schema_editor.execute(f"INSERT INTO {TABLE} (id, key) VALUES (1, 'new')")
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(
            f"CREATE OR REPLACE FUNCTION workshop_move_mark() RETURNS trigger LANGUAGE plpgsql "
            f"AS $$ BEGIN UPDATE {TABLE} SET key = gen_random_uuid(); RETURN NULL; END $$"
        )


def take_away(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute("DROP FUNCTION IF EXISTS workshop_move_mark() CASCADE")
    else:
        with schema_editor.connection.cursor() as cursor:
            cursor.execute("SELECT name FROM sqlite_master WHERE name LIKE '%_moves_mark_%'")
            for (name,) in cursor.fetchall():
                schema_editor.execute(f"DROP TRIGGER {name}")
    schema_editor.execute(f"DROP TABLE {TABLE}")


class Migration(migrations.Migration):
    dependencies = [("workshop", "0021_rates_point_at_their_step")]

    operations = [migrations.RunPython(make, take_away, elidable=False)]
