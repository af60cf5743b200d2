"""A line knows how many of its strands came back."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0010_buyers_without_a_name')
    ]

    operations = [
        migrations.AddField(
            model_name='orderline',
            name='came_back',
            field=models.PositiveIntegerField(default=0, verbose_name='came back'),
        ),
        migrations.AddConstraint(
            model_name='orderline',
            constraint=models.CheckConstraint(condition=models.Q(('came_back__lte', models.F('strands'))), name='order_line_came_back_within'),
        ),
    ]
