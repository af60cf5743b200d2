"""The order slip, and what lies with a shop."""

from collections.abc import Iterator
from decimal import Decimal

from django.template.loader import render_to_string
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.counter.queries import lying_at
from orders.designs.papers import photos_on_papers
from orders.drawn.strands import printed_lengths
from orders.drawn.titles import titled
from orders.models import Consignment, Order, sees_tax
from orders.money.queries.accounts import deposit_asked
from orders.money.queries.snapshot import buyer_of, drawings
from orders.money.queries.to_pay import to_pay
from orders.papers.live import base_context
from orders.papers.long_run import Asked, Kind, chosen_rows, count_chosen
from orders.papers.pages import Line, address_lines, photo_html, price, rate_words
from workshop import formats
from workshop.letterhead import written_to
from workshop.models import Business
from workshop.money import ZERO


@written_to(lambda order, *_args, **_more: order.customer)
def order_slip_html(order: Order, business: Business, *, roll: bool = False) -> str:
    """What was ordered, until when, what was paid on it and what will be asked."""
    lines = list(order.lines.select_related("design"))
    pictures = drawings(line.design for line in lines)
    photos = photos_on_papers(line.design for line in lines)
    lengths = printed_lengths(line.design for line in lines)
    asks = to_pay(order, business)
    buyer = buyer_of(order.customer)
    amounts = asks.whole.line_amounts if asks.whole else (ZERO,) * len(lines)
    context = base_context(
        business,
        _("Order slip"),
        order=order,
        buyer=buyer,
        buyer_lines=address_lines(buyer),
        lines=[
            Line(
                line.design.name_for_reader,
                lengths[line.design_id],
                line.strands,
                price(line.price, business.currency),
                amount,
                mark_safe(
                    titled(pictures.get(str(line.design_id), ""), line.design.name_for_reader)
                )
                + photo_html(photos.get(line.design_id), line.design.name_for_reader),
                "",
            )
            for line, amount in zip(lines, amounts, strict=True)
        ],
        asks=asks,
        deposit_words=deposit_words(order, asks.total, business),
        gross=business.tax_registered and order.prices_with_tax,
        taxes=_taxes(asks, business),
    )
    return render_to_string(
        "print/order_slip_roll.html" if roll else "print/order_slip.html", context
    )


def _slips(asked: Asked) -> Iterator[str]:
    business = Business.current()
    for order in Order.objects.filter(pk__in=asked["rows"]).order_by("number"):
        yield order_slip_html(order, business)


SLIPS = Kind(gettext_lazy("Order slips"), chosen_rows, count_chosen, _slips, "orders:order_list")


def deposit_words(order: Order, total: Decimal, business: Business) -> str:
    """The deposit asked for and what becomes of it, as the order was taken."""
    asked = deposit_asked(order, total, business)
    if not asked:
        return ""
    kept = business.deposit_kept if order.deposit_rule is None else order.deposit_rule
    words = {"sum": formats.money(asked), "share": formats.percent(kept)}
    if not kept:
        return _("We ask for %(sum)s. It goes back if the order is cancelled.") % words
    return (
        _(
            "We ask for %(sum)s. If the order is cancelled before its beads are begun, it goes "
            "back; afterwards %(share)s of it is kept."
        )
        % words
    )


@written_to(lambda goods, business: goods.shop)
def goods_statement_html(goods: Consignment, business: Business) -> str:
    """What lies with a shop on a day, at the prices to buyers, and what of it is ours."""
    rows = lying_at(goods)
    pictures = drawings(row.design for row in rows)
    lengths = printed_lengths(row.design for row in rows)
    buyer = buyer_of(goods.shop)
    context = base_context(
        business,
        _("Goods lent"),
        goods=goods,
        buyer=buyer,
        buyer_lines=address_lines(buyer),
        rows=[
            {
                "row": row,
                "length": lengths[row.design.pk],
                "picture": mark_safe(
                    titled(pictures.get(str(row.design.pk), ""), row.design.name_for_reader)
                ),
            }
            for row in rows
        ],
        strands=sum(row.there for row in rows),
        whole=sum((row.sum or ZERO for row in rows), ZERO),
        ours=sum((row.ours or ZERO for row in rows), ZERO),
        with_tax=sees_tax(goods.shop, business),
    )
    return render_to_string("print/goods_lent.html", context)


def _taxes(asks, business: Business) -> list[tuple[str, Decimal, Decimal]]:
    """Each rate in words, what it is on, and the tax."""
    if not business.tax_registered or asks.whole is None:
        return []
    return [
        (rate_words(share.rate, business.tax_name), share.base, share.tax)
        for share in asks.whole.breakdown
        if share.tax
    ]
