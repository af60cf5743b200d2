"""What is kept of customers, orders and tickets is found once, for books that were there before."""

from django.db import migrations
from django.db.models import Count, F, Max, OuterRef, Q, Subquery, Sum
from django.db.models.functions import Coalesce


def add_up(apps, schema_editor):
    model = apps.get_model
    papers = model("orders", "Document").objects.order_by()
    payments = model("orders", "Payment").objects.order_by()
    orders = model("orders", "Order").objects.order_by()
    promised = orders.exclude(state__in=["draft", "quoted", "cancelled"])
    open_papers = papers.filter(settled__lt=F("total"))

    def of_one(rows, what):
        own = rows.filter(customer=OuterRef("pk")).values("customer")
        return Subquery(own.annotate(found=what).values("found"))

    left = Sum(F("total") - F("settled"))
    model("orders", "Customer").objects.filter(nameless=False).update(
        owes=Coalesce(of_one(open_papers.filter(kind__in=["invoice", "opening"]), left), 0),
        credit=Coalesce(of_one(open_papers.filter(kind="credit"), left), 0)
        + Coalesce(of_one(payments.filter(~Q(unused=0)), Sum("unused")), 0),
        last_on=of_one(promised, Max("taken_on")),
        orders_taken=Coalesce(of_one(promised, Count("pk")), 0),
    )
    finals = papers.filter(kind="invoice", on_account=False, order__isnull=False)
    orders.filter(pk__in=finals.values("order")).update(charged=True)
    slips = model("orders", "PaidWork").objects.order_by()
    model("stock", "WorkTicket").objects.filter(pk__in=slips.values("ticket")).update(paid=True)


class Migration(migrations.Migration):
    dependencies = [
        ("orders", "0031_orders_know_whether_they_are_charged"),
        ("stock", "0030_collectors_sums_added_up"),
    ]

    operations = [migrations.RunPython(add_up, migrations.RunPython.noop, elidable=False)]
