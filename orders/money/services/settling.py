"""The deposit of an order that was cancelled: given back, or kept in part, by the rule."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext as _

from orders.models import Order, Payment
from orders.money.queries.settling import DepositRule, deposit_rule_of
from orders.money.services.credit_notes import issue_credit_note
from orders.money.services.deposits import account_lines
from orders.money.services.payment_allocations import hold_account
from orders.money.services.payments import PaymentDetails, refund
from workshop.models import Person
from workshop.services.acts import record_act
from workshop.services.second_look import DEEDS


@dataclass(frozen=True)
class Settled:
    """What went back to the customer and what stayed with the workshop, VAT included."""

    back: Decimal
    kept: Decimal
    refund: Payment | None


@transaction.atomic
def settle_deposit(
    order: Order,
    *,
    person: Person,
    way: PaymentDetails,
    agreed_by: Person | None = None,
) -> Settled:
    """Give the deposit of a cancelled order back, less what the rule keeps once it is begun.

    What goes back is credited on its invoices on account, the oldest first, and paid out. What is
    kept stays on them with its VAT; the owner may keep it as compensation where her adviser agrees.
    """
    hold_account(order.customer)
    order = (
        Order.objects.select_for_update(of=("self",)).select_related("customer").get(pk=order.pk)
    )
    if order.state != Order.State.CANCELLED:
        raise ValidationError(
            _("Order %(number)s is not cancelled, so its deposit stays with it.")
            % {"number": order.number}
        )
    if order.deposit_kept is not None:
        raise ValidationError(
            _("The deposit of order %(number)s is settled already.") % {"number": order.number}
        )
    rule = deposit_rule_of(order)
    if not rule.held:
        raise ValidationError(_("No deposit is held for order %(n)s.") % {"n": order.number})
    order.deposit_kept = rule.kept
    order.save(update_fields=["deposit_kept"])
    _credit(order, rule, person)
    given = None
    if rule.back:
        given = refund(
            order.customer, rule.back, person=person, way=way, order=order, agreed_by=agreed_by
        )
    record_act(
        person, "settle deposit", order, after={"back": str(rule.back), "kept": str(rule.kept)}
    )
    return Settled(rule.back, rule.kept, given)


def _credit(order: Order, rule: DepositRule, person: Person) -> None:
    """Credit notes for what goes back of the invoices on account, the oldest first."""
    left: dict[int, Decimal] = {}
    papers = {}
    for line in account_lines(order):
        papers[line.paper_id] = line.paper
        left[line.paper_id] = left.get(line.paper_id, Decimal(0)) + line.left_gross
    back = rule.back_of_papers
    for pk, paper in papers.items():
        if part := min(back, left[pk]):
            reason = _("Order %(number)s is cancelled.") % {"number": order.number}
            issue_credit_note(paper, person=person, reason=str(reason), most=part)
            back -= part


def _agreed(facts: dict[str, Any], asked_by: Person, agreed_by: Person) -> None:
    order = Order.objects.get(pk=facts["order"])
    settle_deposit(order, person=asked_by, way=PaymentDetails(**facts["way"]), agreed_by=agreed_by)


DEEDS["deposit"] = _agreed
