"""Papers printed from the book as it stands: order slip, cost sheet, tags, price list."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from orders.counter import papers as slips
from orders.designs import papers as lists
from orders.models import Order, StrandDesign
from orders.papers.respond import printed, printed_or_asked, printed_roll
from orders.reckoning.papers import cost_sheet_html
from stock.models import ItemKind, LocationKind, Movement, StrandTag
from stock.strand_codes import TAGS_AT_ONCE
from workshop.typed import whole_number


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
    """A tag for each strand of an order, from `?from=` on."""

    def address(token: str) -> str:
        return request.build_absolute_uri(reverse("stock:strand_story", args=[token]))

    order = _order(number)
    pieces = lists.order_pieces(order, address)
    first = min(max(1, whole_number(request.GET.get("from")) or 1), max(1, len(pieces)))
    asked = pieces[first - 1 : first - 1 + TAGS_AT_ONCE]
    html = lists.strand_tags_html(asked, request.business, order.customer)
    return printed(request, html, f"tags-{number}" + (f"-{first}" if first > 1 else ""))


@require_GET
def strung_tags(request, pk):
    """A tag for each strand of one stringing, from `?from=` on, each with its own code."""
    strung = get_object_or_404(
        Movement.objects.filter(
            posting__reversed_by__isnull=True, from_place__kind=LocationKind.IN_WORK
        ).exclude(item__design=None),
        posting=pk,
        item__kind=ItemKind.STRANDS,
    )
    first = min(max(1, whole_number(request.GET.get("from")) or 1), strung.quantity)
    places = range(first, min(strung.quantity, first + TAGS_AT_ONCE - 1) + 1)
    design = StrandDesign.objects.with_findings().get(item=strung.item_id)
    tag = StrandTag.objects.filter(posting=pk, published=True).first()
    story = ""
    if tag is not None:
        story = request.build_absolute_uri(reverse("stock:strand_story", args=[tag.token]))
    html = lists.strung_tags_html([lists.Strung(design, pk, places, story)], request.business)
    return printed(request, html, f"tags-{pk}-{first}")


@require_GET
def price_list(request):
    """Every design drawn, with the prices in force."""
    asked = lists.PRICE_LIST.read(request.GET.dict())

    def html() -> str:
        return lists.price_list_html(request.business, asked["group"], language=asked["language"])

    return printed_or_asked(request, "price-list", asked, html, short=2)
