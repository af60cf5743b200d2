"""Collectors: who they are, what they are paid, what they are owed."""

from django.contrib import messages
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from stock.filters import CollectorFilter
from stock.forms import CollectorForm, CollectorPriceForm, PayForm
from stock.models import Collector, CollectorPrice, Payout, Sack
from stock.services.payouts import pay_collector
from stock.tables import CollectorPriceTable, CollectorTable
from workshop import formats
from workshop.views.edit import edit_page
from workshop.views.idempotent import idempotent
from workshop.views.lists import ListPage
from workshop.views.plain import plain_edit


class CollectorList(ListPage):
    sheet = "collectors"
    table_class = CollectorTable
    heading = gettext_lazy("Collectors")
    filterset_class = CollectorFilter
    model = Collector
    add_url_name = "stock:collector_add"
    add_label = gettext_lazy("Add a collector")
    empty = gettext_lazy("No collector yet. Add the first, or log a sack and write their name.")
    links = ((gettext_lazy("Their prices"), "stock:collector_price_list"),)


class PriceList(ListPage):
    queryset = CollectorPrice.objects.select_related("colour", "collector")
    sheet = "glass_prices"
    table_class = CollectorPriceTable
    heading = gettext_lazy("Collectors' prices")
    lead = gettext_lazy(
        "What a kilogram is paid, from a day on. A collector's own price goes before "
        "everyone's; without any, the colour's own price holds."
    )
    filterset_fields = ["colour", "collector"]
    add_url_name = "stock:collector_price_add"
    add_label = gettext_lazy("Add a price")
    empty = gettext_lazy("No price list yet; sacks are paid at each colour's own price.")


edit = plain_edit(
    CollectorForm, list_name="stock:collector_list", new_heading=gettext_lazy("New collector")
)
edit_price = plain_edit(
    CollectorPriceForm,
    list_name="stock:collector_price_list",
    new_heading=gettext_lazy("New price"),
)


def account(request, pk):
    """A collector's sacks, newest first, and what is owed."""
    collector = get_object_or_404(Collector, pk=pk)
    sacks = collector.sacks.select_related("colour").order_by("-number")[:60]
    return render(
        request,
        "stock/collector.html",
        {
            "collector": collector,
            "sacks": sacks,
            "payouts": collector.payouts.defer("content")[:12],
        },
    )


@idempotent
def pay(request, pk):
    """Pay what is owed, all of it or the sacks ticked."""
    collector = get_object_or_404(Collector, pk=pk)
    owed = Sack.objects.filter(collector=collector, paid_on__isnull=True, amount__gt=0)
    owed = owed.select_related("colour").order_by("number")
    if request.method != "POST" and not owed:
        messages.info(request, _("Nothing is owed to %(name)s.") % {"name": collector})
        return redirect("stock:collector", pk=pk)
    form = PayForm(request.POST or None, owed=owed, initial={"sacks": [sack.pk for sack in owed]})
    form.fields["sacks"].label_from_instance = _owed_words
    return edit_page(
        request,
        form,
        heading=_("Pay %(name)s") % {"name": collector},
        lead=_("%(owed)s are owed.") % {"owed": formats.money(collector.owed)},
        submit_label=_("Pay them"),
        saved=_("Paid. The slip can be printed below."),
        save=lambda form: pay_collector(
            collector, sacks=list(form.cleaned_data["sacks"]), person=request.user
        ),
        done_url=reverse("stock:collector", args=[pk]),
        back_url=reverse("stock:collector", args=[pk]),
    )


def _owed_words(sack: Sack) -> str:
    return _("Sack %(number)s, %(day)s: %(net)s %(colour)s, %(amount)s") % {
        "number": sack.number,
        "day": formats.date_short(sack.received_on),
        "net": formats.mass(sack.net_g),
        "colour": sack.colour or _("mixed"),
        "amount": formats.money(sack.amount),
    }


def slip(request, pk):
    """One payout as it was written, to read on a phone; its PDF is for the collector."""
    payout = get_object_or_404(Payout.objects.select_related("collector"), pk=pk)
    return render(request, "stock/slip.html", {"payout": payout, "lines": payout.content["lines"]})
