"""A painted bead says what its paint is."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('stock', '0012_standard_names'),
    ]

    operations = [
        migrations.AddField(
            model_name='bead',
            name='paint',
            field=models.CharField(blank=True, choices=[('', 'not said'), ('enamel', 'a low-melting enamel'), ('glass', 'ground glass')], default='', help_text='For painted beads: an enamel is set well below powder heat.', max_length=8, verbose_name='the paint is'),
        ),
    ]
