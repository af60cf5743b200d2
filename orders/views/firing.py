"""Which orders wait on firing, and why."""

from django.http import HttpResponse
from django.shortcuts import render

from orders.queries.firing import waiting_on_firing
from orders.queries.orders import OrderDrawings, listed_orders, progress_of


def firing(request) -> HttpResponse:
    """The orders that wait, the earliest due first."""
    waiting = waiting_on_firing()
    orders = {
        order.pk: order for order in listed_orders().filter(pk__in=[w.order.pk for w in waiting])
    }
    drawings = OrderDrawings(list(orders.values()))
    rows = [
        {
            "waiting": each,
            "drawn": drawings.of(orders[each.order.pk]),
            "stages": progress_of(each.order),
            "lines": orders[each.order.pk].lines.all(),
        }
        for each in waiting
    ]
    short = sum(each.is_short for each in waiting)
    return render(request, "orders/firing.html", {"rows": rows, "short": short})
