"""One customer stands for everybody who buys without giving a name."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0009_open_papers_by_customer')
    ]

    operations = [
        migrations.AddField(
            model_name='customer',
            name='nameless',
            field=models.BooleanField(default=False, editable=False),
        ),
        migrations.AddConstraint(
            model_name='customer',
            constraint=models.UniqueConstraint(condition=models.Q(('nameless', True)), fields=('nameless',), name='customer_nameless_once'),
        ),
    ]
