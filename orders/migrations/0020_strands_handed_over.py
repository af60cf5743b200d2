"""Lines say how many of their strands the customer has taken away."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("orders", "0019_worth_of_a_kept_sheet")]

    operations = [
        migrations.AddField(
            "orderline",
            "handed",
            models.PositiveIntegerField(default=0, verbose_name="handed over"),
        ),
        migrations.AddConstraint(
            "orderline",
            models.CheckConstraint(
                condition=models.Q(("handed__lte", models.F("strung"))),
                name="order_line_handed_over_within",
            ),
        ),
    ]
