"""Papers printed from the book as it stands: order slip, cost sheet, tags, price list."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from orders.counter import papers as slips
from orders.designs import papers as lists
from orders.models import CustomerGroup, Order
from orders.papers.respond import printed, printed_roll
from orders.reckoning.papers import cost_sheet_html


def _order(number: int) -> Order:
    return get_object_or_404(Order.objects.select_related("customer", "taken_by"), number=number)


@require_GET
def order_slip(request, number):
    """What was ordered, on a sheet for the customer."""
    html = slips.order_slip_html(_order(number), request.business)
    return printed(request, html, f"order-{number}")


@require_GET
def order_slip_roll(request, number):
    """What was ordered, on the 80 mm roll."""
    html = slips.order_slip_html(_order(number), request.business, roll=True)
    return printed_roll(request, html, f"order-{number}")


@require_GET
def cost_sheet(request, number):
    """The working behind an order's price; with `?whole`, down to every leaf."""
    order = _order(number)
    if not order.working:
        messages.warning(
            request,
            _("Order %d has no working yet; it is kept when the order is confirmed.") % number,
        )
        return redirect("orders:order_detail", number)
    html = cost_sheet_html(order, request.business, whole="whole" in request.GET)
    return printed(request, html, f"cost-sheet-{number}")


@require_GET
def strand_tags(request, number):
    """A tag for every design of an order."""
    html = lists.strand_tags_html(_order(number), request.business)
    return printed(request, html, f"tags-{number}")


@require_GET
def price_list(request):
    """Every design drawn, with the prices in force."""
    group = request.GET.get("group", "")
    group = group if group in CustomerGroup.values else ""
    return printed(request, lists.price_list_html(request.business, group), "price-list")
