from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workshop', '0018_phones'),
    ]

    operations = [
        migrations.CreateModel(
            name='WorkStep',
            fields=[
                ('name', models.CharField(max_length=40, primary_key=True, serialize=False, verbose_name='step')),
            ],
            options={
                'verbose_name': 'step of the work',
                'verbose_name_plural': 'steps of the work',
                'ordering': ['name'],
            },
        ),
    ]
