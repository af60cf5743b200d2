"""The people who buy: the list, one of them, and the form."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.counter.filters import CustomerFilter
from orders.counter.forms.customers import CustomerForm
from orders.counter.queries import goods_with, standing_of
from orders.counter.tables import CustomerTable
from orders.making.queries.orders import OrderDrawings, listed_orders, progress_of, progress_words
from orders.models import Customer, DesignPrice, StandingOrder
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage


class CustomerList(ListPage):
    sheet = "customers"
    table_class = CustomerTable
    filterset_class = CustomerFilter
    heading = gettext_lazy("People")
    room = "people"
    add_url_name = "orders:customer_add"
    add_label = gettext_lazy("Add a customer")
    empty = gettext_lazy("Nobody has bought anything yet. Add the first customer.")

    def get_queryset(self):
        return Customer.objects.order_by("sorts_as")


customer_list = CustomerList.as_view()

MOST_ORDERS = 30


def customer_detail(request, pk: int) -> HttpResponse:
    """One customer: what they owe, their orders drawn, their agreed prices."""
    customer = get_object_or_404(Customer, pk=pk)
    orders = list(listed_orders().filter(customer=customer)[:MOST_ORDERS])
    drawings = OrderDrawings(orders)
    return render(
        request,
        "orders/counter/customer.html",
        {
            "customer": customer,
            "standing": standing_of(customer),
            "orders": [
                {
                    "order": order,
                    "drawn": drawings.of(order),
                    "stages": progress_of(order),
                    "words": progress_words(order),
                }
                for order in orders
            ],
            "prices": DesignPrice.objects.filter(customer=customer).select_related("design"),
            "again": StandingOrder.objects.filter(customer=customer, ended_on=None)
            .prefetch_related("lines__design")
            .order_by("next_on"),
            "goods": goods_with(customer),
        },
    )


@idempotent
def customer_edit(request, pk: int | None = None) -> HttpResponse:
    """Add a customer, or change one."""
    customer = get_object_or_404(Customer, pk=pk) if pk is not None else None
    form = CustomerForm(request.POST or None, instance=customer)
    back = reverse("orders:customer_detail", args=[pk]) if pk else reverse("orders:customer_list")
    return edit_page(
        request,
        form,
        heading=str(customer) if customer else _("New customer"),
        done_url=lambda saved: reverse("orders:customer_detail", args=[saved.pk]),
        back_url=back,
        act="change customer" if customer else "add customer",
        room="people",
    )
