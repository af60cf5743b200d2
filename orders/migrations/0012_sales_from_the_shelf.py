"""Sales from the shelf, and what of them came back."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0011_strands_came_back'),
        ('stock', '0019_strands_come_back'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL)
    ]

    operations = [
        migrations.CreateModel(
            name='Sale',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('sold_at', models.DateTimeField(auto_now_add=True, verbose_name='sold')),
            ],
            options={
                'verbose_name': 'sale',
                'verbose_name_plural': 'sales',
                'ordering': ['-id'],
            },
        ),
        migrations.CreateModel(
            name='SaleReturn',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('taken_at', models.DateTimeField(auto_now_add=True)),
            ],
            options={
                'verbose_name': 'strands that came back',
                'verbose_name_plural': 'strands that came back',
                'ordering': ['id'],
            },
        ),
        migrations.AddField(
            model_name='sale',
            name='invoice',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='sale', to='orders.document'),
        ),
        migrations.AddField(
            model_name='sale',
            name='order',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='sale', to='orders.order', verbose_name='number'),
        ),
        migrations.AddField(
            model_name='sale',
            name='payment',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sale', to='orders.payment'),
        ),
        migrations.AddField(
            model_name='sale',
            name='posting',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='sale', to='stock.posting'),
        ),
        migrations.AddField(
            model_name='salereturn',
            name='credit',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='sale_return', to='orders.document'),
        ),
        migrations.AddField(
            model_name='salereturn',
            name='posting',
            field=models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='sale_return', to='stock.posting'),
        ),
        migrations.AddField(
            model_name='salereturn',
            name='refund',
            field=models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='sale_return', to='orders.payment'),
        ),
        migrations.AddField(
            model_name='salereturn',
            name='sale',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='returns', to='orders.sale'),
        ),
        migrations.AddField(
            model_name='salereturn',
            name='taken_by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
    ]
