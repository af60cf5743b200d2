"""Price lists: for everybody, for a group, for one customer; from a quantity, from a day."""

from django.utils.translation import gettext_lazy as _

from orders.filters.lists import PriceFilter
from orders.forms.prices import PriceForm
from orders.models import DesignPrice
from orders.tables.lists import PriceTable
from workshop.views.lists import ListPage
from workshop.views.plain import plain_edit


class PriceList(ListPage):
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
    links = ((_("Designs"), "orders:design_list"),)

    def get_queryset(self):
        return DesignPrice.objects.select_related("design", "customer")


price_list = PriceList.as_view()
price_edit = plain_edit(PriceForm, list_name="orders:design_price_list", new_heading=_("New price"))
