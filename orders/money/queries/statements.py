"""Statements of account: what a customer was charged and paid, and what stands open."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import F, Q, Sum
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from orders.models import Customer, Document, Payment
from orders.money.queries.accounts import Aged, ageing
from workshop.days import soonest
from workshop.money import ZERO

CHARGES = (Document.Kind.INVOICE, Document.Kind.OPENING)
MOVING = (*CHARGES, Document.Kind.CREDIT)
NAMES = {
    "invoice": _("Invoice"),
    "credit": _("Credit note"),
    "opening": _("Balance brought forward"),
    "payment": _("Payment"),
    "refund": _("Given back"),
}


@dataclass(frozen=True)
class Entry:
    """One dated line: `amount` above 0 is owed, below 0 is paid or credited."""

    on: date
    kind: str
    number: str
    amount: Decimal
    balance: Decimal
    due_on: date | None = None
    paper: int | None = None
    payment: int | None = None
    order: int | None = None
    at: datetime | None = None

    @property
    def name(self) -> str:
        return str(NAMES[self.kind])

    @property
    def charged(self) -> Decimal | None:
        return self.amount if self.amount > 0 else None

    @property
    def taken_off(self) -> Decimal | None:
        """What was paid or credited, without its sign."""
        return -self.amount if self.amount < 0 else None


@dataclass(frozen=True)
class OpenItem:
    """A paper not settled in full, and how many days it is late."""

    paper: int
    kind: str
    number: str
    issued_on: date
    due_on: date | None
    total: Decimal
    open: Decimal
    days_late: int

    @property
    def name(self) -> str:
        return str(NAMES[self.kind])


@dataclass(frozen=True)
class Statement:
    """closing = opening + charges − credits − payments, to the cent."""

    customer: Customer
    first_day: date
    last_day: date
    opening: Decimal
    closing: Decimal
    entries: tuple[Entry, ...] = ()
    open_items: tuple[OpenItem, ...] = ()
    aged: Aged | None = field(default=None)

    @property
    def in_credit(self) -> bool:
        return self.closing < 0

    @property
    def left(self) -> Decimal:
        """What is to pay, or in credit, without its sign."""
        return abs(self.closing)


def statements(
    customers: Sequence[Customer], first_day: date, last_day: date | None = None
) -> list[Statement]:
    """The statements of some customers in 15 queries at most, however many there are.

    Open items and ages are those of today; the dated lines are those of the days asked for.
    """
    last_day = last_day or timezone.localdate()
    wanted = [customer.pk for customer in customers]
    before = _sums_before(wanted, first_day)
    moves = _moves(wanted, first_day, last_day)
    open_items = _open_items(wanted, timezone.localdate())
    aged = {row.customer: row for row in ageing(customers=wanted)}
    made = []
    for customer in customers:
        opening = balance = before.get(customer.pk, ZERO)
        entries = []
        for move in sorted(moves.get(customer.pk, ()), key=lambda move: (move.on, move.at)):
            balance += move.amount
            entries.append(_with_balance(move, balance))
        made.append(
            Statement(
                customer,
                first_day,
                last_day,
                opening,
                balance,
                tuple(entries),
                tuple(open_items.get(customer.pk, ())),
                aged.get(customer.pk),
            )
        )
    return made


def statement_of(customer: Customer, first_day: date, last_day: date | None = None) -> Statement:
    """The statement of one customer."""
    return statements([customer], first_day, last_day)[0]


def usual_first_day() -> date:
    """Where a statement begins unless told otherwise: three months back."""
    return timezone.localdate() - timedelta(days=92)


def _sums_before(customers: Iterable[int], first_day: date) -> dict[int, Decimal]:
    papers = Document.objects.filter(customer__in=customers, issued_on__lt=first_day).order_by()
    sums: dict[int, Decimal] = {}
    for rows, sign in (
        (papers.filter(kind__in=CHARGES).values("customer").annotate(n=Sum("total")), 1),
        (papers.filter(kind=Document.Kind.CREDIT).values("customer").annotate(n=Sum("total")), -1),
        (
            Payment.objects.filter(customer__in=customers, on__lt=first_day)
            .order_by()
            .values("customer")
            .annotate(n=Sum("amount")),
            -1,
        ),
    ):
        for row in rows:
            sums[row["customer"]] = sums.get(row["customer"], ZERO) + sign * row["n"]
    return sums


def _moves(customers: Iterable[int], first_day: date, last_day: date) -> dict[int, list[Entry]]:
    moves: dict[int, list[Entry]] = {}
    papers = Document.objects.filter(
        customer__in=customers, kind__in=MOVING, issued_on__range=(first_day, last_day)
    ).order_by("id")
    for pk, customer, kind, number, on, due_on, total, order, at in papers.values_list(
        "pk",
        "customer",
        "kind",
        "number",
        "issued_on",
        "due_on",
        "total",
        "order__number",
        "issued_at",
    ):
        amount = -total if kind == Document.Kind.CREDIT else total
        moves.setdefault(customer, []).append(
            Entry(on, kind, number, amount, ZERO, due_on, paper=pk, order=order, at=at)
        )
    payments = Payment.objects.filter(
        customer__in=customers, on__range=(first_day, last_day)
    ).order_by("id")
    for pk, customer, on, amount, reference, order, at in payments.values_list(
        "pk", "customer", "on", "amount", "paper__number", "order__number", "taken_at"
    ):
        kind = "payment" if amount > 0 else "refund"
        moves.setdefault(customer, []).append(
            Entry(on, kind, reference or "", -amount, ZERO, payment=pk, order=order, at=at)
        )
    return moves


def _open_items(customers: Iterable[int], today: date) -> dict[int, list[OpenItem]]:
    found: dict[int, list[OpenItem]] = {}
    papers = (
        Document.objects.filter(customer__in=customers)
        .filter(Q(kind__in=CHARGES) | Q(kind=Document.Kind.CREDIT))
        .filter(settled__lt=F("total"))
        .order_by(soonest(), "id")
        .defer("content")
    )
    for paper in papers:
        sign = -1 if paper.kind == Document.Kind.CREDIT else 1
        late = (today - paper.due_on).days if paper.due_on else 0
        found.setdefault(paper.customer_id, []).append(
            OpenItem(
                paper.pk,
                paper.kind,
                paper.number,
                paper.issued_on,
                paper.due_on,
                sign * paper.total,
                sign * paper.open_amount,
                max(0, late),
            )
        )
    payments = Payment.objects.filter(customer__in=customers).exclude(unused=0)
    for payment in payments.select_related("paper").defer("paper__content").order_by("on", "id"):
        found.setdefault(payment.customer_id, []).append(
            OpenItem(
                0,
                "payment",
                payment.paper.number if hasattr(payment, "paper") else "",
                payment.on,
                None,
                -payment.amount,
                -payment.unused,
                0,
            )
        )
    return found


def _with_balance(move: Entry, balance: Decimal) -> Entry:
    return replace(move, balance=balance)
