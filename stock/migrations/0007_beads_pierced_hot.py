"""How a bead is pierced hot and cooled apart."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('stock', '0006_used_places_keep_their_kind'),
        ('workshop', '0005_moulds_come_out_hot'),
    ]

    operations = [
        migrations.AddField(
            model_name='bead',
            name='anneal_min',
            field=models.PositiveSmallIntegerField(default=0, help_text='In ash, pot or a second chamber. Cold ash saves from shock; it does not anneal.', verbose_name='from out of the hot kiln to cold, minutes'),
        ),
        migrations.AddField(
            model_name='bead',
            name='drawn_together',
            field=models.BooleanField(default=False, help_text='Else they are drawn one by one, and the others wait in the heat.', verbose_name='all moulds come out at once'),
        ),
        migrations.AddField(
            model_name='bead',
            name='fired_in',
            field=models.CharField(blank=True, choices=[('', 'any kiln'), ('closed', 'only a closed kiln'), ('hot', 'only a kiln kept hot')], default='', max_length=6, verbose_name='fired in'),
        ),
        migrations.AddField(
            model_name='bead',
            name='pierce_min',
            field=models.DecimalField(blank=True, decimal_places=2, help_text='Left empty: the minutes of the rate for piercing.', max_digits=5, null=True, verbose_name='piercing a mould, minutes of one hand'),
        ),
        migrations.AddField(
            model_name='bead',
            name='soft_min',
            field=models.DecimalField(decimal_places=2, default=1, help_text='A first guess is one minute; your own watch goes before it.', max_digits=5, verbose_name='a mould stays soft for, minutes'),
        ),
        migrations.AddConstraint(
            model_name='bead',
            constraint=models.CheckConstraint(condition=models.Q(('soft_min__gt', 0), models.Q(('pierce_min__isnull', True), ('pierce_min__gt', 0), _connector='OR'), models.Q(('pierced_hot', False), models.Q(('fired_in', 'closed'), _negated=True), _connector='OR')), name='bead_pierced_hot_where_it_is_hot', violation_error_message='A bead pierced by hand comes hot out of a kiln kept hot; its minutes lie above 0.'),
        ),
    ]
