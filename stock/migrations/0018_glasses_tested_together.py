"""Two glasses tested together are a fact between them."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [('stock', '0017_marks_stay_with_glass'), migrations.swappable_dependency(settings.AUTH_USER_MODEL)]

    operations = [
        migrations.CreateModel(
            name='GlassTest',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('one_mark', models.CharField(blank=True, max_length=24, verbose_name='its mark')),
                ('other_mark', models.CharField(blank=True, max_length=24, verbose_name='its mark')),
                ('held', models.BooleanField(verbose_name='the joint held')),
                ('tested_on', models.DateField(verbose_name='looked at')),
                ('how', models.CharField(blank=True, max_length=200, verbose_name='how it was tested')),
            ],
            options={
                'verbose_name': 'glasses tested together',
                'verbose_name_plural': 'glasses tested together',
                'ordering': ['-tested_on', '-pk'],
            },
        ),
        migrations.AddField(
            model_name='glasstest',
            name='one',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='stock.glasscolour', verbose_name='one glass'),
        ),
        migrations.AddField(
            model_name='glasstest',
            name='other',
            field=models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='+', to='stock.glasscolour', verbose_name='the other glass'),
        ),
        migrations.AddField(
            model_name='glasstest',
            name='person',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL, verbose_name='who'),
        ),
        migrations.AddConstraint(
            model_name='glasstest',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('one', models.F('other')), _negated=True), models.Q(('one_mark', models.F('other_mark')), _negated=True), _connector='OR'), name='glass_test_of_two_glasses', violation_error_message='A glass always goes with itself; choose two glasses, or two marks.'),
        ),
    ]
