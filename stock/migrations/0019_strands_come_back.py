"""A posting of its own for goods that come back from a customer."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('stock', '0018_glasses_tested_together'),
    ]

    operations = [
        migrations.AlterField(
            model_name='posting',
            name='kind',
            field=models.CharField(choices=[('sack', 'sack in'), ('sorting', 'sorting'), ('preparation', 'preparation'), ('moulding', 'moulding'), ('loading', 'into the kiln'), ('firing', 'firing'), ('finishing', 'finishing'), ('stringing', 'stringing'), ('apart', 'taken apart'), ('collection', 'collected'), ('return', 'came back'), ('count', 'count'), ('opening', 'opening stock'), ('reversal', 'reversal'), ('clearing', 'cleared for melting'), ('move', 'moved'), ('painting', 'painting'), ('anew', 'valued anew')], max_length=12, verbose_name='what'),
        ),
    ]
