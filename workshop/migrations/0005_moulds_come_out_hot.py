"""Moulds are tied up otherwise when they come out hot."""

import workshop.models.fields
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workshop', '0004_programmes_soak'),
    ]

    operations = [
        migrations.AddField(
            model_name='mould',
            name='held_hot_min',
            field=models.PositiveSmallIntegerField(blank=True, help_text='From a kiln kept hot; left empty: as long as after a closed load.', null=True, verbose_name='tied up after coming out hot, minutes'),
        ),
    ]
