"""A lot or maker's mark of a sack stays with its glass, on a heap of its own."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [('stock', '0016_glasses_kept_apart')]

    operations = [
        migrations.RemoveConstraint(
            model_name='item',
            name='item_glass_once',
        ),
        migrations.RemoveConstraint(
            model_name='item',
            name='item_mixed_glass_once',
        ),
        migrations.AddField(
            model_name='item',
            name='mark',
            field=models.CharField(blank=True, max_length=24, verbose_name='mark'),
        ),
        migrations.AddField(
            model_name='sack',
            name='mark',
            field=models.CharField(blank=True, help_text='It stays with the glass, on a heap of its own.', max_length=24, verbose_name="lot or maker's mark"),
        ),
        migrations.AddConstraint(
            model_name='item',
            constraint=models.UniqueConstraint(condition=models.Q(('kind', 'glass')), fields=('colour', 'form', 'mark'), name='item_glass_once'),
        ),
        migrations.AddConstraint(
            model_name='item',
            constraint=models.UniqueConstraint(condition=models.Q(('colour__isnull', True), ('kind', 'glass')), fields=('form', 'mark'), name='item_mixed_glass_once'),
        ),
    ]
