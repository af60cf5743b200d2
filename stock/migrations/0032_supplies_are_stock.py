"""Clasps, cord, paint and fuel are items of the book, with a shelf, and suppliers outside."""

from importlib import import_module

from django.db import migrations, models

# Its trigger stands on the places and reads the balances, and SQLite makes no such table anew.
kept_kind = import_module("stock.migrations.0006_used_places_keep_their_kind")


class Migration(migrations.Migration):

    dependencies = [
        ('stock', '0031_loads_by_kiln_and_what_lies_there'),
    ]

    operations = [
        migrations.RunPython(kept_kind.allow, kept_kind.forbid),
        migrations.RemoveConstraint(
            model_name='item',
            name='item_is_one_thing',
        ),
        migrations.RemoveConstraint(
            model_name='stocklocation',
            name='place_inside_by_its_kind',
        ),
        migrations.AddField(
            model_name='item',
            name='use',
            field=models.CharField(blank=True, editable=False, max_length=20),
        ),
        migrations.AlterField(
            model_name='charge',
            name='name',
            field=models.CharField(choices=[('glass', 'glass'), ('opening', 'here before the book began'), ('hands', 'hands'), ('workshop', 'workshop'), ('fuel', 'fuel'), ('wear', 'kiln wear'), ('moulds', 'moulds and wash'), ('materials', 'materials'), ('bought', 'bought in'), ('used', 'used up'), ('anew', 'valued anew'), ('sold', 'sold'), ('accident', 'accidents'), ('beyond', 'rejects beyond the usual'), ('spoiled', 'spoiled loads'), ('apart', 'taken apart'), ('lost', 'nothing came good'), ('count', 'count differences'), ('reversal', 'reversals')], max_length=10, verbose_name='what'),
        ),
        migrations.AlterField(
            model_name='item',
            name='kind',
            field=models.CharField(choices=[('glass', 'glass'), ('beads', 'beads'), ('strands', 'strands'), ('supply', 'supplies')], max_length=8, verbose_name='kind'),
        ),
        migrations.AlterField(
            model_name='posting',
            name='kind',
            field=models.CharField(choices=[('sack', 'sack in'), ('sorting', 'sorting'), ('preparation', 'preparation'), ('moulding', 'moulding'), ('loading', 'into the kiln'), ('firing', 'firing'), ('finishing', 'finishing'), ('stringing', 'stringing'), ('apart', 'taken apart'), ('collection', 'collected'), ('return', 'came back'), ('count', 'count'), ('opening', 'opening stock'), ('reversal', 'reversal'), ('clearing', 'cleared for melting'), ('move', 'moved'), ('painting', 'painting'), ('purchase', 'bought'), ('use', 'used up'), ('anew', 'valued anew')], max_length=12, verbose_name='what'),
        ),
        migrations.AlterField(
            model_name='stocklocation',
            name='kind',
            field=models.CharField(choices=[('yard', 'yard'), ('glass', 'glass shelf'), ('apart', 'held apart'), ('bench', 'bench'), ('kiln', 'kiln'), ('beads', 'bead shelf'), ('strands', 'strand shelf'), ('supplies', 'supplies shelf'), ('stall', 'market stall'), ('shop', 'lent to a shop'), ('collectors', 'collectors'), ('suppliers', 'suppliers'), ('used', 'used up'), ('work', 'turned into something else'), ('lost', 'lost'), ('sold', 'sold'), ('difference', 'count difference'), ('opening', 'here before the book began')], max_length=10, verbose_name='kind'),
        ),
        migrations.AddConstraint(
            model_name='item',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'glass'), models.Q(('form', ''), _negated=True), ('batch__isnull', True)), models.Q(('kind', 'beads'), ('batch__isnull', False), ('form', '')), models.Q(('kind', 'strands'), ('batch__isnull', True), ('form', '')), models.Q(('kind', 'supply'), ('batch__isnull', True), ('form', ''), models.Q(('use', ''), _negated=True)), _connector='OR'), name='item_is_one_thing'),
        ),
        migrations.AddConstraint(
            model_name='stocklocation',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('inside', True), ('kind__in', ['apart', 'beads', 'bench', 'glass', 'kiln', 'shop', 'stall', 'strands', 'supplies', 'yard'])), models.Q(('inside', False), models.Q(('kind__in', ['apart', 'beads', 'bench', 'glass', 'kiln', 'shop', 'stall', 'strands', 'supplies', 'yard']), _negated=True)), _connector='OR'), name='place_inside_by_its_kind'),
        ),
        migrations.RunPython(kept_kind.forbid, kept_kind.allow),
    ]
