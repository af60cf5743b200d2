from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0004_papers_gone_past'),
    ]

    operations = [
        migrations.AlterConstraint(
            model_name='designprice',
            name='design_price_once_a_day',
            constraint=models.UniqueConstraint(condition=models.Q(('customer__isnull', True)), fields=('design', 'group', 'from_strands', 'valid_from'), name='design_price_once_a_day', violation_error_message='There is a price for this design, this quantity and this day already; change it, or write a later day.'),
        ),
        migrations.AlterConstraint(
            model_name='designprice',
            name='design_agreed_price_once_a_day',
            constraint=models.UniqueConstraint(condition=models.Q(('customer__isnull', False)), fields=('design', 'customer', 'from_strands', 'valid_from'), name='design_agreed_price_once_a_day', violation_error_message='There is a price for this design, this quantity and this day already; change it, or write a later day.'),
        ),
    ]
