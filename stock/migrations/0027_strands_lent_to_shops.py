"""Strands lent to a shop are within the walls: away, and still ours."""

from importlib import import_module

from django.db import migrations, models

# Its trigger stands on the places and reads the balances, and SQLite makes no such table anew.
kept_kind = import_module("stock.migrations.0006_used_places_keep_their_kind")

INSIDE = ["apart", "beads", "bench", "glass", "kiln", "shop", "stall", "strands", "yard"]
KINDS = [
    ("yard", "yard"),
    ("glass", "glass shelf"),
    ("apart", "held apart"),
    ("bench", "bench"),
    ("kiln", "kiln"),
    ("beads", "bead shelf"),
    ("strands", "strand shelf"),
    ("stall", "market stall"),
    ("shop", "lent to a shop"),
    ("collectors", "collectors"),
    ("work", "turned into something else"),
    ("lost", "lost"),
    ("sold", "sold"),
    ("difference", "count difference"),
    ("opening", "here before the book began"),
]


class Migration(migrations.Migration):
    dependencies = [("stock", "0026_tickets_point_at_their_step")]

    operations = [
        migrations.RunPython(kept_kind.allow, kept_kind.forbid),
        migrations.RemoveConstraint("stocklocation", "place_inside_by_its_kind"),
        migrations.AlterField(
            "stocklocation",
            "kind",
            models.CharField(choices=KINDS, max_length=10, verbose_name="kind"),
        ),
        migrations.AddConstraint(
            "stocklocation",
            models.CheckConstraint(
                condition=models.Q(
                    models.Q(("inside", True), ("kind__in", INSIDE)),
                    models.Q(
                        ("inside", False), models.Q(("kind__in", INSIDE), _negated=True)
                    ),
                    _connector="OR",
                ),
                name="place_inside_by_its_kind",
            ),
        ),
        migrations.RunPython(kept_kind.forbid, kept_kind.allow),
    ]
