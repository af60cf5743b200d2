"""Price lists: for everybody, for a group, for one customer; from a quantity, from a day.

Beside them the quantity breaks: a share off from so many strands.
"""

from django.utils.translation import gettext_lazy as _

from orders.designs.filters import BreakFilter, PriceFilter
from orders.designs.forms.prices import BreakForm, PriceForm
from orders.designs.tables import BreakTable, PriceTable
from orders.models import DesignPrice, QuantityBreak
from workshop.views.lists import ListPage
from workshop.views.plain import plain_edit


class PriceList(ListPage):
    sheet = "prices"
    table_class = PriceTable
    filterset_class = PriceFilter
    heading = _("Prices")
    lead = _(
        "The price agreed with a customer goes first, then that of their group, then everybody’s; "
        "of several quantities, the largest that is reached. Without any, a price is suggested."
    )
    room = "designs"
    add_url_name = "orders:design_price_add"
    add_label = _("Add a price")
    empty = _("No prices yet: every price is suggested from the cost. Add the first one.")
    links = (
        (_("Quantity breaks"), "orders:design_break_list"),
        (_("Designs"), "orders:design_list"),
    )

    def get_queryset(self):
        return DesignPrice.objects.select_related("design", "customer")


price_list = PriceList.as_view()
price_edit = plain_edit(PriceForm, list_name="orders:design_price_list", new_heading=_("New price"))


class BreakList(ListPage):
    sheet = "breaks"
    table_class = BreakTable
    filterset_class = BreakFilter
    heading = _("Quantity breaks")
    lead = _(
        "So much off from so many strands of one design. A group’s own break goes before "
        "everybody’s; of several, the largest number that is reached. It comes off the suggested "
        "price, and off a price of the list unless the list names one for as many itself. Prices "
        "agreed with a customer or written by hand stand as they are."
    )
    room = "designs"
    add_url_name = "orders:design_break_add"
    add_label = _("Add a quantity break")
    empty = _("No quantity breaks yet: a strand costs the same however many are taken.")
    links = ((_("Prices"), "orders:design_price_list"),)

    def get_queryset(self):
        return QuantityBreak.objects.all()


break_list = BreakList.as_view()
break_edit = plain_edit(
    BreakForm, list_name="orders:design_break_list", new_heading=_("New quantity break")
)
