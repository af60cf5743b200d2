"""Strands come back of those that were handed over."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("orders", "0024_beads_wanted_since")]

    operations = [
        migrations.RemoveConstraint("orderline", "order_line_came_back_within"),
        migrations.AddConstraint(
            "orderline",
            models.CheckConstraint(
                condition=models.Q(("came_back__lte", models.F("handed"))),
                name="order_line_came_back_within",
            ),
        ),
    ]
