"""The page of one order for its customer: how far it is, what it comes to, when it is ready."""

from datetime import timedelta
from uuid import UUID

from django.conf import settings
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone, translation
from django.views.decorators.http import require_GET

from orders.making.queries.orders import progress_of, progress_words
from orders.models import Order
from orders.money.queries.to_pay import to_pay
from workshop.models import Business
from workshop.views.gently import gently

STAYS_DAYS = 31  # after it was collected


def pages_are_open(business: Business) -> bool:
    """Whether customers have pages: the owner wants them, and others can reach this machine."""
    return business.customer_pages and not settings.DESK


def has_page(order: Order, business: Business) -> bool:
    """From its promise until a month after it was collected."""
    if not (pages_are_open(business) and order.was_confirmed) or order.customer.nameless:
        return False
    last = timezone.localdate() - timedelta(days=STAYS_DAYS)
    return order.collected_on is None or order.collected_on >= last


@require_GET
@gently(60, seconds=60)
def customer_page(request, key: UUID) -> HttpResponse:
    """Whoever has the address sees the strand filling up, the sum and the day; nothing else.

    The key is a random number of 122 bits, so that the address cannot be guessed (RFC 9562, 5.4).
    """
    order = get_object_or_404(Order.objects.select_related("customer"), key=key)
    if not has_page(order, request.business):
        raise Http404
    if order.customer.language:
        translation.activate(order.customer.language)
    asks = to_pay(order, request.business)
    context = {
        "number": order.number,
        "stages": progress_of(order),
        "words": progress_words(order),
        "day": order.collected_on or order.told_on,
        "collected": order.collected_on is not None,
        "total": asks.total,
        "left": asks.left,
    }
    answer = render(request, "orders/counter/customer_page.html", context)
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["Referrer-Policy"] = "no-referrer"
    answer.headers["X-Robots-Tag"] = "noindex, nofollow"
    return answer
