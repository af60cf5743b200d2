"""Goods lent to shops, and the sales of each."""
import django.core.validators
import django.db.models.deletion
import workshop.models.fields
from decimal import Decimal
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0026_deposits_asked_and_kept'),
        ('stock', '0027_strands_lent_to_shops'),
    ]

    operations = [
        migrations.CreateModel(
            name='Consignment',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('share', workshop.models.fields.ShareField(decimal_places=5, help_text='Of the price to buyers, such as 30 %.', max_digits=6, validators=[django.core.validators.MaxValueValidator(Decimal('0.95'))], verbose_name='the shop’s share')),
                ('began_on', models.DateField(verbose_name='since')),
                ('counted_on', models.DateField(blank=True, null=True, verbose_name='last counted')),
                ('place', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='consignment', to='stock.stocklocation')),
                ('shop', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='consignment', to='orders.customer', verbose_name='shop')),
            ],
            options={
                'verbose_name': 'goods with a shop',
                'verbose_name_plural': 'goods with shops',
                'ordering': ['shop__name'],
            },
        ),
        migrations.AddField(
            model_name='sale',
            name='consignment',
            field=models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sales', to='orders.consignment'),
        ),
        migrations.AddConstraint(
            model_name='consignment',
            constraint=models.CheckConstraint(condition=models.Q(('share__gte', 0), ('share__lt', 1)), name='consignment_share_within', violation_error_message='The shop’s share is at least 0 and less than 100 %%.'),
        ),
    ]
