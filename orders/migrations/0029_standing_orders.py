"""What customers want again and again, and the orders taken for it."""

import django.core.validators
import django.db.models.deletion
import workshop.models.fields
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('orders', '0028_minutes_of_a_bead_are_learned'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='StandingOrder',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('every', models.PositiveSmallIntegerField(default=1, validators=[django.core.validators.MinValueValidator(1), django.core.validators.MaxValueValidator(52)], verbose_name='every')),
                ('unit', models.CharField(choices=[('weeks', 'weeks'), ('months', 'months')], default='months', max_length=6, verbose_name='weeks or months')),
                ('from_on', models.DateField(verbose_name='wanted first on')),
                ('next_on', models.DateField(db_index=True, verbose_name='wanted next on')),
                ('ahead_days', models.PositiveSmallIntegerField(default=14, validators=[django.core.validators.MaxValueValidator(180)], verbose_name='taken so many days before')),
                ('paused_until', models.DateField(blank=True, null=True, verbose_name='paused until')),
                ('ended_on', models.DateField(blank=True, null=True, verbose_name='ended')),
                ('note', models.CharField(blank=True, max_length=300, verbose_name='note')),
                ('version', models.PositiveIntegerField(default=0, editable=False)),
                ('agreed_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('customer', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='standing_orders', to='orders.customer', verbose_name='customer')),
            ],
            options={
                'verbose_name': 'standing order',
                'verbose_name_plural': 'standing orders',
                'ordering': ['next_on', 'id'],
            },
        ),
        migrations.CreateModel(
            name='StandingLine',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('position', models.PositiveSmallIntegerField(default=0)),
                ('strands', models.PositiveIntegerField(verbose_name='strands')),
                ('price', workshop.models.fields.MoneyField(blank=True, null=True, verbose_name='each')),
                ('design', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='standing_lines', to='orders.stranddesign')),
                ('standing', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='lines', to='orders.standingorder')),
            ],
            options={
                'ordering': ['position', 'id'],
            },
        ),
        migrations.CreateModel(
            name='StandingTaken',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('wanted_on', models.DateField(verbose_name='wanted on')),
                ('refused', models.CharField(blank=True, max_length=500)),
                ('order', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='standing_taken', to='orders.order')),
                ('standing', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='taken', to='orders.standingorder')),
            ],
            options={
                'ordering': ['-wanted_on'],
            },
        ),
        migrations.AddConstraint(
            model_name='standingorder',
            constraint=models.CheckConstraint(condition=models.Q(('every__gte', 1), ('next_on__gte', models.F('from_on'))), name='standing_order_goes_on', violation_error_message='It comes every week or month at the soonest.'),
        ),
        migrations.AddConstraint(
            model_name='standingline',
            constraint=models.UniqueConstraint(fields=('standing', 'design'), name='standing_line_once_a_design'),
        ),
        migrations.AddConstraint(
            model_name='standingline',
            constraint=models.CheckConstraint(condition=models.Q(('strands__gte', 1)), name='standing_line_wants_some'),
        ),
        migrations.AddConstraint(
            model_name='standingtaken',
            constraint=models.UniqueConstraint(fields=('standing', 'wanted_on'), name='standing_order_taken_once_a_day'),
        ),
    ]
