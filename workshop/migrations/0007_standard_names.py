"""Models by their standard names; the tables keep the names under which the triggers know them."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [('workshop', '0006_cost_of_making')]

    operations = [
        migrations.AlterModelTable("PaperSeries", table="workshop_paperseries"),
        migrations.RenameModel("PaperSeries", "NumberSequence"),
        migrations.AlterModelTable("Act", table="workshop_act"),
        migrations.RenameModel("Act", "AuditEntry"),
        migrations.AlterModelTable("Submission", table="workshop_submission"),
        migrations.RenameModel("Submission", "IdempotencyKey"),
    ]
