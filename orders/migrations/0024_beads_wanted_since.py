"""An order may begin more beads of a kind while others of it are under way."""

from django.db import migrations


class Migration(migrations.Migration):
    dependencies = [("orders", "0023_lines_taken_off")]

    operations = [migrations.RemoveConstraint("workorder", "bead_job_once_an_order")]
