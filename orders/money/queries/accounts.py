"""Who owes what: balances, open items by age, and the money of one order."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

from django.db.models import F, Q, QuerySet, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import Customer, Document, Order, OrderLine, Payment
from orders.money.queries.charging import still_to_charge, strands_to_charge
from orders.money.queries.to_pay import OPEN, ToPay, still_to_pay, to_pay
from workshop.formats import money
from workshop.models import Business, TaxRate
from workshop.models.business import steps_of_debt
from workshop.money import ZERO, round_half_up, round_to_coin, with_tax

BUCKETS = ("not_due", "late_1", "late_2", "late_3", "late_over")


@dataclass(frozen=True)
class Account:
    """What a customer owes and what credit they have; the balance is the difference.

    held  of the credit, deposits of orders that are still to be charged: not to be spent
    """

    owed: Decimal = ZERO
    credit: Decimal = ZERO
    held: Decimal = ZERO

    @property
    def balance(self) -> Decimal:
        return self.owed - self.credit

    @property
    def free(self) -> Decimal:
        """Credit that waits for no order, to be spent or given back."""
        return self.credit - self.held


@dataclass(frozen=True)
class Age:
    """What is owed of one age: its bucket, the age in words and for the head of a column."""

    name: str
    words: str
    head: str
    amount: Decimal

    @property
    def is_old(self) -> bool:
        return self.name in {"late_3", "late_over"}


@dataclass(frozen=True)
class Aged:
    """One customer's open items by days past due.

    credit  money not laid on anything yet; held: of it, deposits of orders still to be charged
    """

    customer: int
    name: str
    not_due: Decimal = ZERO
    late_1: Decimal = ZERO
    late_2: Decimal = ZERO
    late_3: Decimal = ZERO
    late_over: Decimal = ZERO
    credit: Decimal = ZERO
    held: Decimal = ZERO
    phone: str = ""
    email: str = ""
    steps: tuple[int, int, int] = (30, 60, 90)

    @property
    def owed(self) -> Decimal:
        return self.not_due + self.late

    @property
    def late(self) -> Decimal:
        return self.late_1 + self.late_2 + self.late_3 + self.late_over

    @property
    def balance(self) -> Decimal:
        return self.owed - self.credit

    @property
    def free(self) -> Decimal:
        return self.credit - self.held

    @property
    def buckets(self) -> tuple[Decimal, ...]:
        return tuple(getattr(self, name) for name in BUCKETS)

    @property
    def ages(self) -> list["Age"]:
        """Each sum with its age in words, by the owner's own steps."""
        first, second, third = self.steps
        words = (
            _("not due yet"),
            _("1 to %(b)s days late") % {"b": first},
            _("%(a)s to %(b)s days late") % {"a": first + 1, "b": second},
            _("%(a)s to %(b)s days late") % {"a": second + 1, "b": third},
            _("%(a)s days late and more") % {"a": third + 1},
        )
        short = (
            _("Not due"), f"1–{first}", f"{first + 1}–{second}", f"{second + 1}–{third}",
            f"{third + 1}+",
        )  # fmt: skip
        told = zip(BUCKETS, words, short, self.buckets, strict=True)
        return [Age(name, said, head, amount) for name, said, head, amount in told]


def bucket_of(due_on: date, as_at: date, steps: tuple[int, int, int]) -> str:
    """The bucket of a paper due on a day: day 0 is not late, the last day of a step is in it."""
    days = (as_at - due_on).days
    if days <= 0:
        return BUCKETS[0]
    return BUCKETS[1 + sum(days > step for step in steps)]


def _within(as_at: date, steps: tuple[int, int, int]) -> dict[str, Q]:
    """Due dates of each bucket, as the database asks for them."""
    first, second, third = steps

    def ago(days: int) -> date:
        return as_at - timedelta(days=days)

    return {
        "not_due": Q(due_on__gte=as_at) | Q(due_on__isnull=True),
        "late_1": Q(due_on__lt=as_at, due_on__gte=ago(first)),
        "late_2": Q(due_on__lt=ago(first), due_on__gte=ago(second)),
        "late_3": Q(due_on__lt=ago(second), due_on__gte=ago(third)),
        "late_over": Q(due_on__lt=ago(third)),
    }


def ageing(as_at: date | None = None, customers: Iterable[int] | None = None) -> list[Aged]:
    """Open items by customer and age, longest late first (8 queries at most, whatever the rows)."""
    as_at = as_at or timezone.localdate()
    steps = steps_of_debt(Business.in_force().debt_steps)
    owing, notes, payments = Document.objects.open(), _open_notes(), _unused()
    if customers is not None:
        wanted = list(customers)
        owing, notes, payments = (
            rows.filter(customer__in=wanted) for rows in (owing, notes, payments)
        )
    sums = {name: Sum(OPEN, filter=within) for name, within in _within(as_at, steps).items()}
    found = {
        row["customer"]: {name: row[name] or ZERO for name in BUCKETS}
        for row in owing.order_by().values("customer").annotate(**sums)
    }
    for rows in (
        notes.order_by().values("customer").annotate(left=Sum(OPEN)),
        payments.order_by().values("customer").annotate(left=Sum("unused")),
    ):
        for row in rows:
            own = found.setdefault(row["customer"], {})
            own["credit"] = own.get("credit", ZERO) + (row["left"] or ZERO)
    for pk, held in held_for_orders(payments).items():
        found[pk]["held"] = held
    people = {
        person.pk: person
        for person in Customer.objects.filter(pk__in=found).only("name", "phone", "email")
    }
    aged = [
        Aged(
            pk,
            people[pk].name,
            phone=people[pk].phone,
            email=people[pk].email,
            steps=steps,
            **amounts,
        )
        for pk, amounts in found.items()
        if any(amounts.values())
    ]
    return sorted(
        aged, key=lambda row: (-row.late_over, -row.late_3, -row.late_2, -row.late_1, row.name)
    )


def total_of(rows: Iterable[Aged]) -> Aged:
    """The foot of an ageing table."""
    rows = list(rows)
    names = (*BUCKETS, "credit", "held")
    sums = {name: sum((getattr(row, name) for row in rows), ZERO) for name in names}
    steps = rows[0].steps if rows else steps_of_debt(Business.in_force().debt_steps)
    return Aged(0, "", steps=steps, **sums)


def balance_of(customer: Customer) -> Account:
    """What one customer owes and has in credit (6 queries)."""
    owed = Document.objects.open().filter(customer=customer).aggregate(n=Sum(OPEN))["n"]
    notes = _open_notes().filter(customer=customer).aggregate(n=Sum(OPEN))["n"]
    payments = _unused().filter(customer=customer)
    unused = payments.aggregate(n=Sum("unused"))["n"]
    held = held_for_orders(payments).get(customer.pk, ZERO)
    return Account(owed or ZERO, (notes or ZERO) + (unused or ZERO), held)


def held_for_orders(payments: QuerySet[Payment]) -> dict[int, Decimal]:
    """Of some payments, by customer, what is held for orders still to be charged (3 queries)."""
    waiting = list(
        payments.filter(order__isnull=False)
        .exclude(order__state=Order.State.CANCELLED)
        .order_by()  # by its index of what is not used, and not by day
        .values_list("customer", "order", "unused")
    )
    if not waiting:
        return {}
    orders = {order for _who, order, _sum in waiting}
    lines = list(OrderLine.objects.filter(order__in=orders).select_related("order"))
    open_orders = {line.order_id for line, _left in still_to_charge(lines)}
    found: dict[int, Decimal] = {}
    for customer, order, unused in waiting:
        if order in open_orders:
            found[customer] = found.get(customer, ZERO) + unused
    return found


def credit_warning(customer: Customer, more: Decimal) -> str:
    """A sentence when an order of `more` would take the customer over their limit, else ""."""
    if customer.credit_limit is None:
        return ""
    account = balance_of(customer)
    balance = account.owed - account.free
    would = balance + more
    if would <= customer.credit_limit:
        return ""
    if balance > 0:
        sentence = _(
            "%(name)s owes %(balance)s and may owe up to %(limit)s; with this order it would be "
            "%(would)s. Take a deposit, or ask the owner."
        )
    else:
        sentence = _(
            "%(name)s may owe up to %(limit)s; with this order it would be %(would)s. Take a "
            "deposit, or ask the owner."
        )
    return sentence % {
        "name": customer.name,
        "balance": money(balance),
        "limit": money(customer.credit_limit),
        "would": money(would),
    }


def usual_deposit(total: Decimal, business: Business, customer: Customer | None = None) -> Decimal:
    """A share of what will be paid, VAT included, in the smallest coin: the customer's own, else
    the usual one. Nothing of an order that comes to less than the owner's sum.

    A payment on account contains VAT (Directive 2006/112/EC, article 65).

    >>> from decimal import Decimal as D
    >>> str(round_to_coin(round_half_up(D("0.30") * D("505.53"), "EUR"), D("0.05")))
    '151.65'
    """
    if business.deposit_from is not None and total < business.deposit_from:
        return ZERO
    share = business.deposit_share
    if customer is not None and customer.deposit_share is not None:
        share = customer.deposit_share
    asked = round_half_up(total * share, business.currency)
    return round_to_coin(asked, business.smallest_coin)


def deposit_asked(order: Order, total: Decimal, business: Business) -> Decimal:
    """The deposit of an order: as asked for when it was promised, else as it would be now."""
    if order.deposit_asked is not None and order.was_confirmed:
        return order.deposit_asked
    return usual_deposit(total, business, order.customer)


def asked_for(net: Decimal, business: Business) -> Decimal:
    """What will be asked for goods of a price without VAT, at the usual rate (1 query)."""
    if not business.tax_registered:
        return net
    rate = TaxRate.standard_on(timezone.localdate())
    return with_tax(net, rate.rate if rate else ZERO, business.currency)


@dataclass(frozen=True)
class NotCharged:
    """An order that was handed over and stands on no invoice yet, and what it will ask for."""

    order: Order
    asks: ToPay


MOST_NOT_CHARGED = 50  # the oldest; more would be no list to work through


def not_charged_yet() -> list[NotCharged]:
    """Orders handed over and not invoiced, the oldest first (7 queries)."""
    rows = Order.objects.filter(charged=False, state=Order.State.COLLECTED)
    orders = list(
        rows.select_related("customer").order_by("collected_on", "number")[:MOST_NOT_CHARGED]
    )
    asks = still_to_pay(orders)
    return [NotCharged(order, asks[order.pk]) for order in orders if asks[order.pk].left]


@dataclass(frozen=True)
class OrderMoney:
    """The money side of one order, as its page shows it."""

    order: Order
    papers: list[Document]
    payments: list[Payment]
    to_charge: int
    asks: ToPay
    usual_deposit: Decimal
    quote: Document | None = None
    invoices: list[Document] = field(default_factory=list)
    warning: str = ""

    @property
    def paid(self) -> Decimal:
        return sum((payment.amount for payment in self.payments), ZERO)

    @property
    def late(self) -> bool:
        """Whether something on an invoice should have been paid before today."""
        return any(paper.is_late for paper in self.papers)

    @property
    def deposit_papers(self) -> list[Document]:
        """Invoices on account of which something is left, to be given back if all is off."""
        waiting = {deposit.pk for deposit in self.asks.deposits}
        return [paper for paper in self.papers if paper.pk in waiting]


def order_money(order: Order) -> OrderMoney:
    """Papers, payments and what is still to be paid of an order (at most 15 queries)."""
    papers = list(order.papers.defer("content").order_by("id"))
    quotes = [paper for paper in papers if paper.kind == Document.Kind.QUOTE]
    invoices = [
        paper for paper in papers if paper.kind == Document.Kind.INVOICE and not paper.on_account
    ]
    business = Business.in_force()
    asks = to_pay(order, business)
    return OrderMoney(
        order,
        papers,
        list(order.payments.select_related("paper").defer("paper__content").order_by("on", "id")),
        sum(strands for _line, strands in strands_to_charge(order)),
        asks,
        deposit_asked(order, asks.total, business),
        quotes[-1] if quotes else None,
        invoices,
        _limit_warning(order, asks),
    )


def _limit_warning(order: Order, asks: ToPay) -> str:
    """Said while a deposit can still be asked for; what is invoiced is owed already."""
    if order.is_over:
        return ""
    return credit_warning(order.customer, asks.left - asks.open)


def _open_notes():
    return Document.objects.filter(kind=Document.Kind.CREDIT, settled__lt=F("total"))


def _unused():
    return Payment.objects.exclude(unused=0)
