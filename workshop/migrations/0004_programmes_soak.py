"""A programme may soak and cool slowly."""

import workshop.models.fields
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workshop', '0003_kilns_kept_hot'),
    ]

    operations = [
        migrations.AddField(
            model_name='programme',
            name='slow_c_per_min',
            field=models.DecimalField(blank=True, decimal_places=2, max_digits=5, null=True, verbose_name='by, °C a minute'),
        ),
        migrations.AddField(
            model_name='programme',
            name='slow_to_c',
            field=models.PositiveSmallIntegerField(blank=True, null=True, verbose_name='then slowly down to, °C'),
        ),
        migrations.AddField(
            model_name='programme',
            name='soak_c',
            field=models.PositiveSmallIntegerField(blank=True, help_text='A rest on the way down, so that thick beads do not crack. All four or none.', null=True, verbose_name='soak at, °C'),
        ),
        migrations.AddField(
            model_name='programme',
            name='soak_min',
            field=models.PositiveSmallIntegerField(blank=True, null=True, verbose_name='soak for, minutes'),
        ),
        migrations.AddConstraint(
            model_name='programme',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('slow_c_per_min__isnull', True), ('slow_to_c__isnull', True), ('soak_c__isnull', True), ('soak_min__isnull', True)), models.Q(('slow_c_per_min__gt', 0), ('slow_to_c__gt', 20), ('slow_to_c__lt', models.F('soak_c')), ('soak_c__lt', models.F('hold_c')), ('soak_min__isnull', False)), _connector='OR'), name='programme_soak_lies_on_the_way_down', violation_error_message='A soak needs all four of its figures: below the temperature held, then slowly down to something cooler yet.'),
        ),
    ]
