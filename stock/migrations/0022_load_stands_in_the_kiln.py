from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('stock', '0021_beads_made_to_order'),
    ]

    operations = [
        migrations.AddField(
            model_name='kilnload',
            name='in_kiln',
            field=models.BooleanField(default=False, editable=False, verbose_name='stands in the kiln'),
        ),
    ]
