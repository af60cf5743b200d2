"""Findings are bought, and open orders say what they take of them."""

import django.db.models.deletion
import workshop.models.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0035_findings_in_stock'),
        ('stock', '0032_supplies_are_stock'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='FindingNeed',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('quantity', models.BigIntegerField(verbose_name='how much')),
                ('finding', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='needs', to='orders.finding', verbose_name='what')),
                ('order', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='finding_needs', to='orders.order', verbose_name='order')),
            ],
            options={
                'verbose_name': 'finding an order takes',
                'verbose_name_plural': 'findings orders take',
                'ordering': ['id'],
                'constraints': [models.UniqueConstraint(fields=('order', 'finding'), name='finding_need_once'), models.CheckConstraint(condition=models.Q(('quantity__gt', 0)), name='finding_need_above_none')],
            },
        ),
        migrations.CreateModel(
            name='Purchase',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('supplier', models.CharField(blank=True, max_length=80, verbose_name='bought from')),
                ('quantity', models.BigIntegerField(verbose_name='how much')),
                ('price', workshop.models.fields.MoneyField(verbose_name='price of all of it')),
                ('tax_rate', models.DecimalField(decimal_places=2, default=0, max_digits=5, verbose_name='VAT in it')),
                ('net', workshop.models.fields.MoneyField(verbose_name='worth in the book')),
                ('paper', models.CharField(blank=True, max_length=40, verbose_name='number of their paper')),
                ('ordered_on', models.DateField(verbose_name='ordered')),
                ('expected_on', models.DateField(blank=True, null=True, verbose_name='expected')),
                ('arrived_on', models.DateField(blank=True, null=True, verbose_name='came')),
                ('called_off', models.BooleanField(default=False, verbose_name='called off')),
                ('finding', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='purchases', to='orders.finding', verbose_name='what')),
                ('person', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL, verbose_name='who')),
                ('posting', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='purchase', to='stock.posting')),
            ],
            options={
                'verbose_name': 'purchase',
                'verbose_name_plural': 'purchases',
                'ordering': ['-ordered_on', '-pk'],
                'indexes': [models.Index(condition=models.Q(('arrived_on__isnull', True), ('called_off', False)), fields=['finding'], name='purchase_on_its_way')],
                'constraints': [models.CheckConstraint(condition=models.Q(('net__gte', 0), ('price__gte', 0), ('quantity__gt', 0), ('tax_rate__gte', 0)), name='purchase_of_something'), models.CheckConstraint(condition=models.Q(models.Q(('arrived_on__isnull', True), ('posting__isnull', True)), models.Q(('arrived_on__isnull', False), ('called_off', False), ('posting__isnull', False)), _connector='OR'), name='purchase_that_came_is_in_the_book')],
            },
        ),
    ]
