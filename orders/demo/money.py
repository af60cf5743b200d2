"""How the invented customers pay: in full, in part, too much, by telephone, and back again.

What each invoice meets is fixed by its place in the series, so that every demo shows all of it.
"""

from datetime import date, timedelta
from decimal import Decimal

from orders.models import Customer, Document, DocumentLine, Order, PayFloor
from orders.money.services.drawers import count_drawer, through_drawer
from orders.money.services.goods_back import credit_goods
from orders.money.services.pay import pay_hand
from orders.money.services.payment_allocations import spendable
from orders.money.services.payments import PaymentDetails, free_credits, record_payment, refund
from stock.models import WorkTicket
from workshop.models import Person
from workshop.money import round_half_up, round_to_coin

NETWORK = "Harbour Coin"  # invented
HALF, TEN = Decimal("0.5"), Decimal(10)
COIN = Decimal("0.05")
FLOAT = Decimal(80)  # change left in the drawer over night
OLD_DAYS = 45  # what is older than this is paid in most workshops


def pay_at_the_counter(paper: Document, *, day: date, way: PaymentDetails, person: Person) -> None:
    """Pay an invoice as it is handed over: most in full, some in part, some rounded up."""
    owed = paper.total - paper.settled
    if owed <= 0:
        return
    place = paper.sequence
    if place % 7 == 3:
        amount = round_to_coin(owed * HALF, COIN)
        way = PaymentDetails("cash")
    elif place % 11 == 5:
        # A standing transfer is rounded up to a whole ten; what is over is kept as credit.
        amount = (owed // TEN + 1) * TEN
        way = PaymentDetails("bank", reference="standing transfer")
    else:
        amount = owed
        if place % 5 == 0:
            way = by_telephone(place)
    record_payment(paper.customer, amount, person=person, way=way, order=paper.order, on=day)


def by_telephone(place: int) -> PaymentDetails:
    """Mobile money from an invented number."""
    return PaymentDetails(
        "mobile",
        network=NETWORK,
        payer_number=f"+35320000{place:04d}",
        reference=f"HC{place:06d}",
    )


def money_day(*, day: date, today: date, counter: Person, owner: Person) -> None:
    """Friday's post: late payers pay, a strand comes back, credit is given back."""
    late = Document.objects.open().filter(due_on__lt=day).oldest_first().defer("content")
    for paper in late.select_related("customer")[:2]:
        if (today - paper.issued_on).days > OLD_DAYS or paper.sequence % 3 == 0:
            way = PaymentDetails("bank", reference=paper.number)
            record_payment(paper.customer, paper.open_amount, person=counter, way=way, on=day)
    for paper in _came_back(day):
        _take_back_a_strand(paper, owner)
    _give_back(owner, day)
    _count_the_drawer(counter, day)


def pay_the_hands(today: date, *, owner: Person) -> None:
    """Every month that is over is paid to each hand by bank, never below the agreed least."""
    PayFloor.objects.create(hourly=Decimal("8.50"), valid_from=today - timedelta(days=366))
    worked = WorkTicket.objects.filter(hand__isnull=False).order_by("on")
    for month in worked.dates("on", "month"):
        following = (month + timedelta(days=32)).replace(day=1)
        last = following - timedelta(days=1)
        if last >= today:
            break
        hands = Person.objects.filter(tickets__on__range=(month, last)).distinct()
        for hand in hands.order_by("pk"):
            pay_hand(hand, month, last, person=owner, in_cash=False, on=last)


def _count_the_drawer(counter: Person, day: date) -> None:
    """Once in five weeks a coin is missing."""
    came_in, paid_out = through_drawer("", day)
    short = COIN if day.toordinal() // 7 % 5 == 2 else Decimal(0)
    there = FLOAT + came_in - paid_out - short
    count_drawer("", max(Decimal(0), there), person=counter, float_left=FLOAT, on=day)


def _came_back(day: date) -> list[Document]:
    """Invoices of the last week of which one strand comes back, unstrung."""
    week = Document.objects.filter(
        kind=Document.Kind.INVOICE,
        issued_on__range=(day - timedelta(days=6), day),
        order__state=Order.State.COLLECTED,
    )
    return [paper for paper in week.select_related("customer") if paper.sequence % 13 == 6]


def _take_back_a_strand(paper: Document, owner: Person) -> None:
    line = paper.lines.filter(role=DocumentLine.Role.GOODS).order_by("-quantity").first()
    if line is None or Document.objects.filter(names=paper).exists():
        return
    reason = "One strand came unstrung; its beads are kept for remaking."
    credit_goods(paper, {line.pk: (0, 1)}, person=owner, reason=reason, quantities={})


def _give_back(owner: Person, day: date) -> None:
    """Whoever has credit from a credit note and owes nothing may have it back in cash."""
    notes = (
        Document.objects.filter(kind=Document.Kind.CREDIT)
        .select_related("customer")
        .defer("content")
    )
    for note in notes:
        if spendable(note) <= 0:
            continue
        customer: Customer = note.customer
        if Document.objects.open().filter(customer=customer).exists():
            continue
        credit = sum((spendable(one) for one in free_credits(customer)), Decimal(0))
        refund(customer, round_half_up(min(credit, spendable(note)), 2), person=owner, on=day)
