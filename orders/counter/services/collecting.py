"""An order handed over: its strands leave the shelf."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.making.services.holds import held_strands, let_all_go
from orders.making.services.progress import string_for
from orders.models import Order, Stage
from orders.money.queries.accounts import balance_of
from orders.money.queries.to_pay import to_pay
from orders.money.services.payment_allocations import hold_account
from stock.services.convert import Taken
from stock.services.stringing import hand_over
from workshop.formats import money
from workshop.models import Person
from workshop.services.acts import record_act


class NotPaid(ValidationError):
    """Something is still to pay. Carries what, VAT included."""

    def __init__(self, sentence: str, left: Decimal) -> None:
        self.left = left
        super().__init__(sentence)


@transaction.atomic
def hand_over_order(order: Order, *, person: Person, on_account: bool = False) -> Order:
    """The customer takes away what is paid; else only by the owner's word, within the limit.

    on_account  the owner's word that it is paid later

    Raises NotPaid with the sum that is still to pay.
    """
    hold_account(order.customer)
    left = to_pay(order).left
    sentence = _why_not_yet(order, left, on_account=on_account and person.is_owner)
    done = collect_order(order, person=person)  # first, so that what is not ready is told first
    if sentence:
        raise NotPaid(sentence, left)
    if left:
        record_act(person, "hand over on account", order, after={"to pay": str(left)})
    return done


def _why_not_yet(order: Order, left: Decimal, *, on_account: bool) -> str:
    if not left:
        return ""
    if on_account:
        return over_limit(order, left)
    return _(
        "%(sum)s is still to pay for order %(number)s. Take the payment; or the owner hands it "
        "over on account."
    ) % {"sum": money(left), "number": order.number}


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


@transaction.atomic
def collect_order(order: Order, *, person: Person) -> Order:
    """The customer takes the strands away. What is not strung yet but can be, is strung first.

    Refused while beads are still missing; nothing is posted then.
    """
    on = timezone.localdate()
    changed = Order.objects.filter(
        pk=order.pk, state=Order.State.CONFIRMED, version=order.version
    ).update(state=Order.State.COLLECTED, collected_on=on, version=F("version") + 1)
    if not changed:
        now = Order.objects.get(pk=order.pk)
        raise ValidationError(
            _("Order %(number)s is %(state)s, so it cannot be handed over.")
            % {"number": now.number, "state": now.get_state_display()}
        )
    parts = []
    for line in order.lines.with_designs().select_related("design__item", "order"):
        if line.strung < line.strands:
            string_for(line, line.strands - line.strung, person=person, on=on)
        for held in held_strands(line):
            parts.append(Taken(held.balance.item, held.balance.place, held.quantity, held.quantity))
    hand_over(
        parts,
        person=person,
        why=str(_("order %d collected") % order.number),
        belongs=("order", str(order.number)),
        on=on,
    )
    order.allocations.filter(line__isnull=False).delete()
    let_all_go(order)
    order.glass_needs.all().delete()
    order.refresh_from_db()
    order.stage, order.stage_since = Stage.COLLECTED, timezone.now()
    order.save(update_fields=["stage", "stage_since"])
    record_act(person, "hand over order", order, after={"collected_on": on.isoformat()})
    return order
