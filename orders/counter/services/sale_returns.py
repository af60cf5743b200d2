"""Strands of a sale that come back: credited, paid back, and on the shelf or with the rejects."""

from collections.abc import Sequence
from datetime import date
from typing import Any

from django.db import transaction

from orders.models import Order, Sale, SaleReturn
from orders.money.services.credit_notes import issue_credit_note
from orders.money.services.goods_back import CameBack, goods_come_back
from orders.money.services.payment_allocations import hold_account
from orders.money.services.payments import PaymentDetails, refund
from workshop.models import Person
from workshop.services.acts import record_act
from workshop.services.second_look import DEEDS


@transaction.atomic
def take_sale_back(
    sale: Sale,
    came_back: Sequence[CameBack],
    *,
    person: Person,
    reason: str,
    way: PaymentDetails,
    on: date | None = None,
    agreed_by: Person | None = None,
) -> SaleReturn:
    """Take strands of a sale back: a credit note names its invoice, the money is given back.

    Good strands lie on the shelf again with the value they left it with. Broken ones go to the
    rejects: their glass is worth what raw glass of its colours is, the rest is expensed.

    agreed_by  the second person, where the owner asks for two above a sum
    """
    hold_account(sale.order.customer)
    order = Order.objects.select_for_update(of=("self",)).get(pk=sale.order_id)
    # First, so that more than was sold is told as such.
    posting = goods_come_back(order, came_back, person=person, on=on)
    credit = issue_credit_note(
        sale.invoice, person=person, reason=reason, quantities=_credited(sale, came_back), on=on
    )
    paid = None
    if credit.open_amount:  # nothing, where the money had not come in after all
        paid = refund(
            order.customer, credit.open_amount, person=person, way=way, order=order, on=on,
            agreed_by=agreed_by,
        )  # fmt: skip
    back = SaleReturn.objects.create(
        sale=sale, posting=posting, credit=credit, refund=paid, taken_by=person
    )
    names = dict(order.lines.values_list("pk", "design__name"))
    told = {names[each.line]: each.strands for each in came_back if each.strands}
    record_act(person, "take sale back", sale, after=told)
    return back


def _credited(sale: Sale, came_back: Sequence[CameBack]) -> dict[int, int]:
    """How many of each line of the invoice are credited, by its primary key (1 query)."""
    charged = dict(
        sale.invoice.lines.filter(order_line__isnull=False).values_list("order_line", "pk")
    )
    return {charged[each.line]: each.strands for each in came_back if each.strands}


def _agreed(facts: dict[str, Any], asked_by: Person, agreed_by: Person) -> None:
    take_sale_back(
        Sale.objects.select_related("order__customer", "invoice").get(pk=facts["sale"]),
        [CameBack(*each) for each in facts["came_back"]],
        person=asked_by,
        reason=facts["reason"],
        way=PaymentDetails(**facts["way"]),
        agreed_by=agreed_by,
    )


DEEDS["sale back"] = _agreed
