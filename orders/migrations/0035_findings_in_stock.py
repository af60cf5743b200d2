"""Findings are kept in stock."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0034_languages_of_customers'),
        ('stock', '0032_supplies_are_stock'),
    ]

    operations = [
        migrations.AddField(
            model_name='finding',
            name='delivery_days',
            field=models.PositiveSmallIntegerField(blank=True, help_text='From the day it is ordered. Left empty: ask the supplier.', null=True, verbose_name='days until it comes'),
        ),
        migrations.AddField(
            model_name='finding',
            name='fuel',
            field=models.CharField(blank=True, choices=[('wood', 'wood'), ('charcoal', 'charcoal'), ('lpg', 'bottled gas'), ('electricity', 'electricity')], max_length=12, verbose_name='kind of fuel'),
        ),
        migrations.AddField(
            model_name='finding',
            name='item',
            field=models.OneToOneField(blank=True, editable=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='finding', to='stock.item'),
        ),
        migrations.AddField(
            model_name='finding',
            name='kept',
            field=models.BooleanField(default=False, editable=False, verbose_name='kept in stock'),
        ),
        migrations.AddField(
            model_name='finding',
            name='reorder_at',
            field=models.BigIntegerField(default=0, verbose_name='buy more when so little is left'),
        ),
        migrations.AddField(
            model_name='finding',
            name='supplier',
            field=models.CharField(blank=True, max_length=80, verbose_name='bought from'),
        ),
        migrations.AlterField(
            model_name='finding',
            name='kind',
            field=models.CharField(choices=[('spacer', 'spacer'), ('clasp', 'clasp'), ('cord', 'cord, by the metre'), ('other', 'other'), ('paint', 'paint, by the kilogram'), ('wash', 'kiln wash, by the kilogram'), ('fuel', 'fuel, by the kilogram')], max_length=8, verbose_name='kind'),
        ),
        migrations.AddConstraint(
            model_name='finding',
            constraint=models.CheckConstraint(condition=models.Q(('kept', False), ('item__isnull', False), _connector='OR'), name='finding_kept_has_an_item'),
        ),
        migrations.AddConstraint(
            model_name='finding',
            constraint=models.CheckConstraint(condition=models.Q(('reorder_at__gte', 0)), name='finding_reorder_not_negative', violation_error_message='What is left when more is bought cannot be below 0.'),
        ),
        migrations.AddConstraint(
            model_name='finding',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'fuel'), models.Q(('fuel', ''), _negated=True)), models.Q(models.Q(('kind', 'fuel'), _negated=True), ('fuel', '')), _connector='OR'), name='finding_fuel_of_a_kind', violation_error_message='Say which fuel it is; leave that empty for everything else.'),
        ),
    ]
