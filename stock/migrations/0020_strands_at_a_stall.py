"""Strands carried out to a market stall are within the walls: away, and still ours."""

from importlib import import_module

from django.db import migrations, models

# Its trigger stands on the places and reads the balances, and SQLite makes no such table anew.
kept_kind = import_module("stock.migrations.0006_used_places_keep_their_kind")


class Migration(migrations.Migration):

    dependencies = [
        ('stock', '0019_strands_come_back'),
    ]

    operations = [
        migrations.RunPython(kept_kind.allow, kept_kind.forbid),
        migrations.RemoveConstraint(
            model_name='stocklocation',
            name='place_inside_by_its_kind',
        ),
        migrations.AlterField(
            model_name='stocklocation',
            name='kind',
            field=models.CharField(choices=[('yard', 'yard'), ('glass', 'glass shelf'), ('apart', 'held apart'), ('bench', 'bench'), ('kiln', 'kiln'), ('beads', 'bead shelf'), ('strands', 'strand shelf'), ('stall', 'market stall'), ('collectors', 'collectors'), ('work', 'turned into something else'), ('lost', 'lost'), ('sold', 'sold'), ('difference', 'count difference'), ('opening', 'here before the book began')], max_length=10, verbose_name='kind'),
        ),
        migrations.AddConstraint(
            model_name='stocklocation',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('inside', True), ('kind__in', ['apart', 'beads', 'bench', 'glass', 'kiln', 'stall', 'strands', 'yard'])), models.Q(('inside', False), models.Q(('kind__in', ['apart', 'beads', 'bench', 'glass', 'kiln', 'stall', 'strands', 'yard']), _negated=True)), _connector='OR'), name='place_inside_by_its_kind'),
        ),
        migrations.RunPython(kept_kind.forbid, kept_kind.allow),
    ]
