import django.db.models.deletion
from django.db import migrations

import workshop.models.fields


class Migration(migrations.Migration):

    dependencies = [
        ('stock', '0025_steps_that_tickets_name'),
        ('workshop', '0021_rates_point_at_their_step'),
    ]

    operations = [
        migrations.AlterField(
            model_name='workticket',
            name='step',
            field=workshop.models.fields.NameKey(db_column='step', on_delete=django.db.models.deletion.PROTECT, related_name='tickets', to='workshop.workstep', verbose_name='step'),
        ),
    ]
