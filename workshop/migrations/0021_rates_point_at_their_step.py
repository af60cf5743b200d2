import django.db.models.deletion
from django.db import migrations

import workshop.models.fields


class Migration(migrations.Migration):

    dependencies = [
        ('workshop', '0020_steps_that_rates_name'),
    ]

    operations = [
        migrations.AlterField(
            model_name='labourrate',
            name='step',
            field=workshop.models.fields.NameKey(db_column='step', on_delete=django.db.models.deletion.PROTECT, related_name='rates', to='workshop.workstep', verbose_name='step'),
        ),
    ]
