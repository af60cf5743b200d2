"""Window, oven and unknown glass lie on heaps of their own, beside the bottle glass."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [('stock', '0015_balances_not_empty_and_ended_loads')]

    operations = [
        migrations.AddField(
            model_name='glasscolour',
            name='kept_from',
            field=models.ForeignKey(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='kept_apart', to='stock.glasscolour'),
        ),
        migrations.AddField(
            model_name='glasscolour',
            name='kind',
            field=models.CharField(choices=[('bottle', 'bottle glass'), ('sheet', 'window glass'), ('oven', 'oven glass'), ('unknown', 'unknown glass')], default='bottle', help_text='Window, oven and unknown glass lie on heaps of their own.', max_length=8, verbose_name='kind of glass'),
        ),
        migrations.AddField(
            model_name='sack',
            name='cleared_why',
            field=models.CharField(blank=True, max_length=200, verbose_name='reason'),
        ),
        migrations.AddField(
            model_name='sack',
            name='with_bottles',
            field=models.BooleanField(default=False, editable=False, verbose_name='put with bottle glass'),
        ),
        migrations.AlterField(
            model_name='sack',
            name='origin',
            field=models.CharField(choices=[('bottles', 'bottles'), ('sheet', 'window or sheet glass'), ('oven', 'oven dishes, laboratory glass'), ('unknown', 'glass nobody knows'), ('old-beads', 'old beads'), ('bought', 'bought glass')], default='bottles', max_length=10, verbose_name='what it is'),
        ),
        migrations.AddConstraint(
            model_name='glasscolour',
            constraint=models.UniqueConstraint(fields=('kept_from', 'kind'), name='glass_one_heap_of_a_kind_beside_a_colour'),
        ),
        migrations.AddConstraint(
            model_name='glasscolour',
            constraint=models.CheckConstraint(condition=models.Q(('kept_from__isnull', True), models.Q(('kind', 'bottle'), _negated=True), _connector='OR'), name='glass_kept_from_bottles_is_none'),
        ),
    ]
