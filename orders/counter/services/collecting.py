"""An order handed over, whole or in parts: its strands leave the shelf."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.counter.services.ordering import changed_meanwhile
from orders.making.services.holds import held_strands, let_all_go, use_up
from orders.making.services.progress import string_for
from orders.models import Document, Order, OrderLine, Payment, Stage
from orders.money.queries.accounts import balance_of
from orders.money.queries.charging import handed_to_charge
from orders.money.queries.snapshot import text
from orders.money.queries.to_pay import due_for_handed, to_pay
from orders.money.services.invoices import issue_invoice
from orders.money.services.payment_allocations import hold_account
from orders.money.services.payments import PaymentDetails, record_payment
from stock.models import Posting
from stock.services.convert import Taken
from stock.services.stringing import hand_over
from workshop.formats import money
from workshop.models import Person
from workshop.services.acts import record_act
from workshop.services.trial import tried


class NotPaid(ValidationError):
    """Something is still to pay. Carries what, VAT included."""

    def __init__(self, sentence: str, left: Decimal) -> None:
        self.left = left
        super().__init__(sentence)


@transaction.atomic
def hand_over_order(order: Order, *, person: Person, on_account: bool) -> Order:
    """The customer takes away what is paid; else only by the owner's word, within the limit.

    on_account  the owner's word that it is paid later

    Raises NotPaid with the sum that is still to pay.
    """
    hold_account(order.customer)
    left = to_pay(order).left
    done = collect_order(order, person=person)  # first, so that what is not ready is told first
    if left:
        _not_paid(order, left, person, on_account=on_account)
    return done


def _not_paid(order: Order, left: Decimal, person: Person, *, on_account: bool) -> None:
    """Let it go on account, by the owner's word and within the limit; else raise NotPaid."""
    sentence = _(
        "%(sum)s is still to pay for order %(number)s. Take the payment; or the owner hands it "
        "over on account."
    ) % {"sum": money(left), "number": order.number}
    if on_account and person.is_owner:
        sentence = over_limit(order, left)
    if sentence:
        raise NotPaid(sentence, left)
    record_act(person, "hand over on account", order, after={"to pay": text(left)})


def over_limit(order: Order, left: Decimal) -> str:
    """Why the customer may not owe what is left of an order too, as a sentence; else ""."""
    customer = order.customer
    if customer.credit_limit is None:
        return ""
    account, asks = balance_of(customer), to_pay(order)
    would = account.owed - account.free + left - asks.open
    if would <= customer.credit_limit:
        return ""
    return _(
        "%(name)s may owe up to %(limit)s; with this order it would be %(would)s. Take a payment "
        "first, or write a higher limit on the customer's page."
    ) % {
        "name": customer,
        "limit": money(customer.credit_limit),
        "would": money(would),
    }


@dataclass(frozen=True)
class PartGone:
    """A part that left.

    invoice  of it; none where it was charged before
    left     what its invoices ask for now, before anything is paid
    """

    order: Order
    strands: int
    invoice: Document | None
    left: Decimal
    payment: Payment | None = None


@transaction.atomic
def hand_over_part(
    order: Order,
    strands: Mapping[int, int],
    *,
    person: Person,
    way: PaymentDetails | None = None,
    on_account: bool = False,
) -> PartGone:
    """The customer takes so many strands of each line away; the rest stays promised.

    What leaves and was not charged yet is invoiced; what was paid on account is taken off it. What
    it then asks for is paid (`way`), or waits by the owner's word, within the limit.

    Raises NotPaid with the sum that is still to pay.
    """
    gone = _part_leaves(order, strands, person)
    if not gone.left:
        return gone
    if way is None:
        _not_paid(gone.order, gone.left, person, on_account=on_account)
        return gone
    paid = record_payment(order.customer, gone.left, person=person, way=way, order=gone.order)
    return replace(gone, payment=paid)


def look_at_part(order: Order, strands: Mapping[int, int], *, person: Person) -> PartGone:
    """What handing over a part would come to: done, read, and let go of again."""
    return tried(lambda: _part_leaves(order, strands, person))


def _part_leaves(order: Order, strands: Mapping[int, int], person: Person) -> PartGone:
    hold_account(order.customer)
    lines = {line.pk: line for line in order.lines.with_designs().select_related("design__item")}
    wanted = _part_of(lines, strands)
    if all(line.to_hand_over == wanted.get(line, 0) for line in lines.values()):
        order = collect_order(order, person=person)  # the last part
    else:
        claim(order, _("so no part of it can be handed over"))
        leave(order, wanted, person=person, on=timezone.localdate())
        told = {str(line.design): count for line, count in wanted.items()}
        record_act(person, "hand over part", order, after=told)
        order.refresh_from_db()
    invoice = None
    if uncharged := handed_to_charge(order):
        invoice = issue_invoice(order, person=person, strands=uncharged)
    left = due_for_handed(order) if order.is_open else to_pay(order).left
    return PartGone(order, sum(wanted.values()), invoice, left)


def _part_of(lines: Mapping[int, OrderLine], strands: Mapping[int, int]) -> dict[OrderLine, int]:
    """What leaves of which line; refused where it is nothing, or more than the line still has."""
    for pk, count in strands.items():
        line = lines.get(pk)
        if line is None:
            raise ValidationError(_("One of these lines is not of this order. Open it again."))
        if not 0 <= count <= line.to_hand_over:
            raise ValidationError(
                {
                    f"n_{pk}": _(
                        "%(design)s: %(asked)s were written and %(left)s are still to be handed "
                        "over. Write %(left)s or fewer."
                    )
                    % {"design": line.design, "asked": count, "left": line.to_hand_over}
                }
            )
    wanted = {lines[pk]: count for pk, count in strands.items() if count}
    if not wanted:
        raise ValidationError(_("Write how many strands are handed over."))
    return wanted


@transaction.atomic
def collect_order(order: Order, *, person: Person) -> Order:
    """The customer takes all that is left away. What is not strung yet but can be, is strung first.

    Refused while beads are still missing; nothing is posted then.
    """
    on = timezone.localdate()
    claim(order, _("so it cannot be handed over"), state=Order.State.COLLECTED, collected_on=on)
    lines = list(order.lines.with_designs().select_related("design__item", "order"))
    leave(order, {line: line.to_hand_over for line in lines}, person=person, on=on)
    let_all_go(order)
    order.glass_needs.all().delete()
    order.refresh_from_db()
    order.stage, order.stage_since = Stage.COLLECTED, timezone.now()
    order.save(update_fields=["stage", "stage_since"])
    record_act(person, "hand over order", order, after={"collected_on": on.isoformat()})
    return order


def claim(order: Order, so: str, **changed: Any) -> None:
    """Change a confirmed order as it was read; whoever comes second is told what it has become."""
    found = Order.objects.filter(
        pk=order.pk, state=Order.State.CONFIRMED, version=order.version
    ).update(version=F("version") + 1, **changed)
    if found:
        return
    now = Order.objects.get(pk=order.pk)
    if now.is_open:
        raise ValidationError(changed_meanwhile(order))
    raise ValidationError(
        _("Order %(number)s is %(state)s, %(so)s.")
        % {"number": now.number, "state": now.get_state_display(), "so": so}
    )


def leave(
    order: Order, strands: Mapping[OrderLine, int], *, person: Person, on: date
) -> Posting | None:
    """So many strands of each line leave with the customer; what can be strung is strung first."""
    parts = []
    for line, count in strands.items():
        if (missing := count - line.ready) > 0:
            string_for(line, missing, person=person, on=on)
        left = count
        for held in held_strands(line).order_by("pk"):
            if piece := min(left, held.quantity):
                parts.append(Taken(held.balance.item, held.balance.place, piece, piece))
                use_up(held, piece)
                left -= piece
        OrderLine.objects.filter(pk=line.pk).update(handed=F("handed") + count)
    if not parts:
        return None
    return hand_over(
        parts,
        person=person,
        why=str(_("order %d collected") % order.number),
        belongs=("order", str(order.number)),
        on=on,
    )
