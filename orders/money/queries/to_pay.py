"""What an order still asks for, VAT included: the one answer of every page and slip."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db.models import ExpressionWrapper, F, Sum
from django.utils import timezone

from orders.models import Document, DocumentLine, Order, OrderLine, Payment
from orders.money.queries.charging import (
    NO_INVOICE,
    Rates,
    ToCharge,
    left_to_charge,
    still_to_charge,
    sums_of,
)
from orders.money.totals import InvoiceTotals
from workshop.models import Business, MoneyField
from workshop.money import ZERO

OPEN = ExpressionWrapper(F("total") - F("settled"), output_field=MoneyField())
LEFT = ExpressionWrapper(F("gross") - F("credited_gross"), output_field=MoneyField())


@dataclass(frozen=True)
class Deposit:
    """An invoice for a payment on account, and what of it no final invoice has taken off."""

    pk: int
    number: str
    issued_on: date
    left: Decimal

    @property
    def taken_off(self) -> Decimal:
        return -self.left


@dataclass(frozen=True)
class ToPay:
    """What one order asks for; every sum includes VAT.

    open       on its invoices
    to_charge  for what is on no invoice yet
    deposits   payments on account that a final invoice will take off
    unused     other money held for the order
    whole      the order as it is told, all lines; none where it cannot be added up
    """

    open: Decimal = ZERO
    to_charge: Decimal = ZERO
    deposits: tuple[Deposit, ...] = ()
    unused: Decimal = ZERO
    whole: InvoiceTotals | None = field(default=None, repr=False)

    @property
    def on_account(self) -> Decimal:
        return sum((deposit.left for deposit in self.deposits), ZERO)

    @property
    def held(self) -> Decimal:
        """Deposits that wait for the final invoice."""
        return self.on_account + self.unused

    @property
    def left(self) -> Decimal:
        """Still to pay."""
        return self.open + max(ZERO, self.to_charge - self.held)

    @property
    def total(self) -> Decimal:
        """All of the order, VAT included."""
        return self.whole.due if self.whole is not None else self.to_charge

    @property
    def otherwise(self) -> Decimal:
        """What of the whole is neither to pay nor a deposit named here: paid, or taken off."""
        return self.total - self.left - self.on_account

    @property
    def less_otherwise(self) -> Decimal:
        return -self.otherwise


def still_to_pay(orders: Sequence[Order], business: Business | None = None) -> dict[int, ToPay]:
    """What each order asks for, by primary key (6 queries, however many orders)."""
    business = business or Business.in_force()
    lines: dict[int, list[OrderLine]] = {order.pk: [] for order in orders}
    rows = list(
        OrderLine.objects.filter(order__in=orders)
        .select_related("order")
        .order_by("position", "id")
    )
    for line in rows:
        lines[line.order_id].append(line)
    uncharged = {line.pk: n for line, n in still_to_charge(rows)}
    papers = Document.objects.filter(order__in=orders).exclude(kind__in=NO_INVOICE).order_by()
    owed = dict(papers.values_list("order").annotate(n=Sum(OPEN)))
    unused = dict(
        Payment.objects.filter(order__in=orders, amount__gt=0)
        .order_by()
        .values_list("order")
        .annotate(n=Sum("unused"))
    )
    deposits = _deposits(orders)
    rates = Rates()
    found = {}
    for order in orders:
        own = lines[order.pk]
        asks = order.state != Order.State.CANCELLED
        left = [(line, uncharged[line.pk]) for line in own if line.pk in uncharged]
        whole = _sum(order, [(line, line.strands) for line in own], rates, business)
        rest = _sum(order, left, rates, business) if asks else None
        found[order.pk] = ToPay(
            open=owed.get(order.pk) or ZERO,
            to_charge=rest.due if rest is not None else ZERO,
            deposits=tuple(deposits.get(order.pk, ())),
            unused=unused.get(order.pk) or ZERO,
            whole=whole,
        )
    return found


def due_for_handed(order: Order) -> Decimal:
    """What its invoices ask for now: what was handed over, less what came in (9 queries at most).

    Where an invoice names strands that are still here, what those come to can wait.
    """
    business = Business.in_force()
    asks = to_pay(order, business)
    lines = list(OrderLine.objects.filter(order=order).order_by("position", "id"))
    left = {line.pk: n for line, n in left_to_charge(lines)}
    if all(line.strands - left.get(line.pk, 0) <= line.handed for line in lines):
        return asks.open
    gone = _sum(order, [(line, line.handed) for line in lines if line.handed], Rates(), business)
    paid = asks.total - asks.left
    return min(asks.open, max(ZERO, (gone.due if gone is not None else ZERO) - paid))


def to_pay(order: Order, business: Business | None = None) -> ToPay:
    """What one order asks for (6 queries)."""
    return still_to_pay([order], business)[order.pk]


def _deposits(orders: Sequence[Order]) -> dict[int, list[Deposit]]:
    rows = (
        DocumentLine.objects.filter(role=DocumentLine.Role.ACCOUNT, paper__order__in=orders)
        .filter(credited_gross__lt=F("gross"))
        .exclude(paper__kind__in=NO_INVOICE)
        .order_by("paper_id")
        .values_list("paper__order", "paper", "paper__number", "paper__issued_on")
        .annotate(n=Sum(LEFT))
    )
    found: dict[int, list[Deposit]] = {}
    for order, pk, number, issued_on, left in rows:
        found.setdefault(order, []).append(Deposit(pk, number, issued_on, left))
    return found


def _sum(
    order: Order, lines: Sequence[tuple[OrderLine, int]], rates: Rates, business: Business
) -> InvoiceTotals | None:
    """Lines with the VAT of the day they are, or would be, handed over."""
    if not lines:
        return None
    day = order.collected_on or timezone.localdate()
    taxed = business.tax_registered and rates.standard(day) is not None
    to_charge = [ToCharge(line, n, rates.of(line, day) if taxed else None) for line, n in lines]
    try:
        return sums_of(to_charge, business, with_tax=order.prices_with_tax, ordinary=None)
    except ValidationError:
        return None  # rates that cannot stand on one paper: each invoice says what it asks for
