"""Tending a kiln kept hot is paid by the run, too."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workshop', '0016_hours_when_worked'),
    ]

    operations = [
        migrations.AlterField(
            model_name='labourrate',
            name='basis',
            field=models.CharField(choices=[('kg', 'per kg of glass'), ('mould', 'per mould filled'), ('bead', 'per bead'), ('strand', 'per strand'), ('load', 'per kiln load'), ('run', 'per run of a kiln kept hot'), ('order', 'per order')], max_length=8, verbose_name='basis'),
        ),
    ]
