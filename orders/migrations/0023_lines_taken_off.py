"""A line of which a paper speaks may be taken off its order: it stays, and wants nothing."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("orders", "0022_designs_of_an_order")]

    operations = [
        migrations.RemoveConstraint("orderline", "order_line_wants_something"),
        migrations.AddConstraint(
            "orderline",
            models.CheckConstraint(
                condition=models.Q(("strands__gte", 0), ("price__gte", 0)),
                name="order_line_wants_something",
                violation_error_message="A line wants strands, at a price not below 0.",
            ),
        ),
    ]
