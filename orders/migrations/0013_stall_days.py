"""Days at a market stall, and the sales of each."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0012_sales_from_the_shelf'),
        ('stock', '0020_strands_at_a_stall'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='StallDay',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('on', models.DateField(db_index=True, verbose_name='day')),
                ('opened_at', models.DateTimeField(auto_now_add=True)),
                ('home_at', models.DateTimeField(blank=True, null=True, verbose_name='home')),
                ('carried_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('place', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='stall_days', to='stock.stocklocation', verbose_name='stall')),
            ],
            options={
                'verbose_name': 'stall day',
                'verbose_name_plural': 'stall days',
                'ordering': ['-on', '-id'],
            },
        ),
        migrations.AddField(
            model_name='sale',
            name='stall_day',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sales', to='orders.stallday'),
        ),
        migrations.AddConstraint(
            model_name='stallday',
            constraint=models.UniqueConstraint(condition=models.Q(('home_at__isnull', True)), fields=('place',), name='stall_day_one_open'),
        ),
    ]
