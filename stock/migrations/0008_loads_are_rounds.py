"""A load may be a round of a kiln kept hot."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('stock', '0007_beads_pierced_hot'),
        ('workshop', '0005_moulds_come_out_hot'),
    ]

    operations = [
        migrations.AddField(
            model_name='kilnload',
            name='done_after_min',
            field=models.PositiveSmallIntegerField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name='kilnload',
            name='first_after_min',
            field=models.PositiveSmallIntegerField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name='kilnload',
            name='free_after_min',
            field=models.PositiveSmallIntegerField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name='kilnload',
            name='hands',
            field=models.PositiveSmallIntegerField(default=0, verbose_name='hands that pierce'),
        ),
        migrations.AddField(
            model_name='kilnload',
            name='in_after_min',
            field=models.PositiveSmallIntegerField(blank=True, editable=False, null=True),
        ),
        migrations.AddField(
            model_name='kilnload',
            name='lit',
            field=models.BooleanField(default=False, verbose_name='the kiln is lit for it'),
        ),
        migrations.AddField(
            model_name='kilnload',
            name='pierced_until',
            field=models.DateTimeField(blank=True, null=True, verbose_name='pierced until'),
        ),
    ]
