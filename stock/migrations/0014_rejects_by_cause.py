"""Rejects are told by their cause."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('stock', '0013_what_paint_is'),
    ]

    operations = [
        migrations.CreateModel(
            name='RejectTally',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('cause', models.CharField(choices=[('chipped', 'chipped'), ('crooked', 'crooked bore'), ('stuck', 'stuck to the mould'), ('cracked', 'cracked'), ('colour', 'colour'), ('short', 'short fill')], max_length=8, verbose_name='cause')),
                ('beads', models.PositiveIntegerField(verbose_name='beads')),
                ('on', models.DateField(db_index=True, verbose_name='day')),
                ('batch', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='tallies', to='stock.beadbatch', verbose_name='batch')),
                ('load', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.SET_NULL, related_name='tallies', to='stock.kilnload')),
                ('posting', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='tallies', to='stock.posting')),
            ],
            options={
                'verbose_name': 'rejects by cause',
                'verbose_name_plural': 'rejects by cause',
                'ordering': ['-on', 'cause'],
                'constraints': [models.CheckConstraint(condition=models.Q(('beads__gte', 1)), name='tally_counts_a_bead')],
            },
        ),
    ]
