"""Postings made before there were charges: why value came or left is read from their movements."""

from django.db import migrations

# Value comes with glass from collectors, with what was here before, and with what a count finds.
COMES = {
    "collectors": "glass",
    "opening": "opening",
    "difference": "count",
    "sold": "sold",
    "lost": "lost",
}
LEAVES = {"sold": "sold", "difference": "count", "opening": "opening", "collectors": "glass"}


def _cases(which):
    return " ".join(f"WHEN '{kind}' THEN '{name}'" for kind, name in which.items())


def name_values(apps, schema_editor):
    schema_editor.execute(
        f"""
        INSERT INTO stock_charge
               (posting_id, "on", name, step, units, setup_min, minutes, rate, amount)
        SELECT posting_id, "on", name, '', 0, 0, 0, 0, SUM(amount)
        FROM (
            SELECT m.posting_id, p."on", m.value AS amount,
                   CASE f.kind {_cases(COMES)} ELSE 'reversal' END AS name
            FROM stock_movement AS m
            JOIN stock_posting AS p ON p.id = m.posting_id
            JOIN stock_place AS f ON f.id = m.from_place_id
            JOIN stock_place AS t ON t.id = m.to_place_id
            WHERE m.value <> 0 AND NOT f.inside AND f.kind <> 'work' AND (t.inside OR t.kind = 'work')
            UNION ALL
            SELECT m.posting_id, p."on", -m.value,
                   CASE WHEN t.kind = 'lost' AND m.loss = 'accident' THEN 'accident'
                        WHEN t.kind = 'lost' THEN 'lost'
                        ELSE CASE t.kind {_cases(LEAVES)} ELSE 'reversal' END END
            FROM stock_movement AS m
            JOIN stock_posting AS p ON p.id = m.posting_id
            JOIN stock_place AS f ON f.id = m.from_place_id
            JOIN stock_place AS t ON t.id = m.to_place_id
            WHERE m.value <> 0 AND NOT t.inside AND t.kind <> 'work' AND (f.inside OR f.kind = 'work')
        ) AS sides
        GROUP BY posting_id, "on", name
        HAVING SUM(amount) <> 0
        ORDER BY posting_id, name
        """
    )


class Migration(migrations.Migration):
    dependencies = [("stock", "0010_charges_are_append_only")]

    operations = [migrations.RunPython(name_values, migrations.RunPython.noop)]
