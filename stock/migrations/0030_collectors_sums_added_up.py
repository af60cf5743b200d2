"""What is kept of a collector is added up from their sacks once, for books that were there before."""

from django.db import migrations
from django.db.models import Count, Max, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce


def add_up(apps, schema_editor):
    sacks = apps.get_model("stock", "Sack").objects.filter(collector=OuterRef("pk")).order_by()
    came = sacks.filter(posting__reversed_by__isnull=True)

    def of_one(rows, what):
        return Subquery(rows.values("collector").annotate(found=what).values("found"))

    apps.get_model("stock", "Collector").objects.update(
        brought=Coalesce(of_one(came, Count("pk")), 0),
        owed=Coalesce(of_one(sacks.filter(paid_on=None), Sum("amount")), 0),
        paid=Coalesce(of_one(sacks.filter(~Q(paid_on=None)), Sum("amount")), 0),
        last_on=of_one(came, Max("received_on")),
    )


class Migration(migrations.Migration):
    dependencies = [("stock", "0029_tickets_know_whether_they_are_paid")]

    operations = [migrations.RunPython(add_up, migrations.RunPython.noop, elidable=False)]
