"""A kiln is closed or kept hot; all kilns so far are closed."""

import workshop.models.fields
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workshop', '0002_what_vat_is_called'),
    ]

    operations = [
        migrations.AddField(
            model_name='kiln',
            name='body_from',
            field=models.CharField(choices=[('guess', 'first guess'), ('building', 'from the building'), ('measured', 'measured')], default='guess', max_length=8, verbose_name='the body is'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='body_mj',
            field=models.DecimalField(blank=True, decimal_places=2, help_text='Taken up at each warm-up. With the loss, fuel is reckoned by the hour.', max_digits=7, null=True, verbose_name='heat of its body, MJ'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='change_min',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Open, take out, put in, close, back to temperature.', null=True, verbose_name='changing moulds, minutes'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='cooler_c_per_min',
            field=models.DecimalField(blank=True, decimal_places=1, max_digits=5, null=True, verbose_name='cooler by, °C a minute'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='fire_efficiency',
            field=workshop.models.fields.ShareField(blank=True, decimal_places=5, help_text="Share of the fuel's heat that does not leave by the flue; electricity 100 %.", max_digits=6, null=True, verbose_name='efficiency of the fire'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='fire_from',
            field=models.CharField(choices=[('guess', 'first guess'), ('building', 'from the building'), ('measured', 'measured')], default='guess', max_length=8, verbose_name="the fire's efficiency is"),
        ),
        migrations.AddField(
            model_name='kiln',
            name='heat_c_per_min',
            field=models.DecimalField(blank=True, decimal_places=1, help_text='Left empty: the preheat minutes count, whatever the temperature.', max_digits=5, null=True, verbose_name='heats by, °C a minute'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='hotter_c_per_min',
            field=models.DecimalField(blank=True, decimal_places=1, max_digits=5, null=True, verbose_name='hotter by, °C a minute'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='keep_hot_min',
            field=models.PositiveSmallIntegerField(blank=True, help_text='The longest wait between two rounds; after it the kiln is lit anew.', null=True, verbose_name='kept hot without moulds, minutes'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='loss_from',
            field=models.CharField(choices=[('guess', 'first guess'), ('building', 'from the building'), ('measured', 'measured')], default='guess', max_length=8, verbose_name='the loss is'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='loss_kw',
            field=models.DecimalField(blank=True, decimal_places=3, max_digits=6, null=True, verbose_name='loss while hot, kW'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='open_c',
            field=models.PositiveSmallIntegerField(blank=True, help_text='Left empty: a soak counts on top of the whole cooling.', null=True, verbose_name='opened at, °C'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='ref_c',
            field=models.PositiveSmallIntegerField(blank=True, help_text="Left empty: from each programme's own temperature.", null=True, verbose_name='cooling was timed from, °C'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='warm_up_min',
            field=models.PositiveSmallIntegerField(blank=True, help_text='From lighting it to hot, once a run.', null=True, verbose_name='warm-up, minutes'),
        ),
        migrations.AddField(
            model_name='kiln',
            name='way',
            field=models.CharField(choices=[('closed', 'closed: heated, held, cooled and opened cold for each load'), ('hot', 'kept hot: lit once, moulds go in and come out in rounds')], default='closed', max_length=6, verbose_name='way of working'),
        ),
        migrations.AddConstraint(
            model_name='kiln',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('way', 'hot'), _negated=True), models.Q(('change_min__isnull', False), ('cooler_c_per_min__gt', 0), ('hotter_c_per_min__gt', 0), ('keep_hot_min__isnull', False), ('warm_up_min__isnull', False)), _connector='OR'), name='kiln_kept_hot_has_its_minutes', violation_error_message='A kiln kept hot needs its warm-up, change and waiting minutes, and how fast it grows hotter and cooler.'),
        ),
        migrations.AddConstraint(
            model_name='kiln',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('heat_c_per_min__isnull', True), ('heat_c_per_min__gt', 0), _connector='OR'), models.Q(('open_c__isnull', True), ('open_c__gt', 20), _connector='OR'), models.Q(('ref_c__isnull', True), ('open_c__isnull', True), ('ref_c__gt', models.F('open_c')), _connector='OR')), name='kiln_cools_down', violation_error_message='It heats by more than 0 °C a minute, and is opened above the 20 °C of the room and below where its cooling was timed from.'),
        ),
        migrations.AddConstraint(
            model_name='kiln',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('body_mj__isnull', True), ('body_mj__gt', 0), _connector='OR'), models.Q(('loss_kw__isnull', True), ('loss_kw__gt', 0), _connector='OR'), models.Q(('fire_efficiency__isnull', True), models.Q(('fire_efficiency__gt', 0), ('fire_efficiency__lte', 1)), _connector='OR')), name='kiln_heat_is_above_nothing', violation_error_message="Body and loss lie above 0, the fire's efficiency up to 100 %%."),
        ),
    ]
