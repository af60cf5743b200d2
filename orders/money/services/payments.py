"""Money in and money back: payments, deposits, refunds, and what they are laid on."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import Customer, Document, Order, Payment, PaymentAllocation, keep_accounts
from orders.money.queries.charging import still_to_charge
from orders.money.services.credit_notes import issue_credit_note
from orders.money.services.deposits import invoice_on_account
from orders.money.services.payment_allocations import (
    credits_of,
    hold_account,
    lay,
    lay_on_each,
    spendable,
    take_back,
)
from orders.money.services.receipts import issue_receipt, issue_refund_slip
from workshop.formats import money
from workshop.models import Business, Person, TaxRate
from workshop.money import ZERO, round_half_up, round_to_coin
from workshop.services.acts import record_act
from workshop.services.second_look import DEEDS, NeedsAnother

CASH, MOBILE = Payment.Method.CASH, Payment.Method.MOBILE


@dataclass(frozen=True)
class PaymentDetails:
    """How money moves: in cash through a drawer, by bank, by mobile money, by card."""

    method: str = CASH
    drawer: str = ""
    network: str = ""
    payer_number: str = ""
    reference: str = ""
    fee: Decimal = ZERO


@transaction.atomic
def record_payment(
    customer: Customer,
    amount: Decimal,
    *,
    person: Person | None,
    way: PaymentDetails | None = None,
    order: Order | None = None,
    papers: Sequence[tuple[Document, Decimal]] | None = None,
    oldest_first: bool = True,
    on: date | None = None,
    rate: TaxRate | None = None,
) -> Payment:
    """Book money that came in, lay it on what is owed and issue its receipt.

    With `papers` it is laid by hand; money for an order goes to that order's invoices, and what
    comes before them gets an invoice on account (at `rate`, else that of the order's lines); other
    money goes to the oldest invoices first. What is left over is credit.
    """
    business = Business.in_force()
    on = on or timezone.localdate()
    way = _checked_way(way or PaymentDetails(), business)
    _check_amount(amount, business)
    hold_account(customer)
    owed = _owed(customer, order, papers, oldest_first)
    amount, rounding = _in_coins(amount, sum((due for _paper, due in owed), ZERO), way, business)
    payment = _write(customer, order, amount, rounding, on, way, person)
    if papers is not None:
        for paper, part in papers:
            lay(payment, paper, part, on)
        payment.refresh_from_db(fields=["unused"])
    else:
        lay_on_each(payment, [paper for paper, _due in owed], on)
        invoice_on_account(payment, person=person, rate=rate)
    record_act(person, "record payment", payment, after={"amount": str(amount), "how": way.method})
    issue_receipt(payment, person=person)
    return payment


@transaction.atomic
def refund(
    customer: Customer,
    amount: Decimal,
    *,
    person: Person | None,
    way: PaymentDetails | None = None,
    order: Order | None = None,
    on: date | None = None,
    agreed_by: Person | None = None,
) -> Payment:
    """Give back credit that is not used; never more than there is.

    Deposits of orders still to be charged are not touched, but those of `order` itself. Above the
    owner's sum, only once another person agreed (`agreed_by`).
    """
    business = Business.current()
    on = on or timezone.localdate()
    way = _checked_way(way or PaymentDetails(), business)
    _check_amount(amount, business)
    hold_account(customer)
    credits = [
        credit for credit in credits_of(customer, order) if not _waits(credit, but_for=order)
    ]
    there = sum((spendable(credit) for credit in credits), ZERO)
    if amount > there:
        raise ValidationError(
            {
                "amount": _(
                    "Only %(there)s of credit is there to give back, and %(amount)s was written. "
                    "Write %(there)s or less."
                )
                % {"there": money(there), "amount": money(amount)}
            }
        )
    _check_two_people(customer, amount, on, business, person, agreed_by)
    _amount, rounding = _in_coins(amount, ZERO, way, business)
    payment = _write(customer, order, -amount, -rounding, on, way, person)
    left = amount
    for credit in credits:
        if part := min(left, spendable(credit)):
            lay(credit, payment, part, on)
            left -= part
    payment.refresh_from_db()
    record_act(person, "refund", payment, after={"amount": str(amount), "how": way.method})
    issue_refund_slip(payment, person=person)
    return payment


@transaction.atomic
def reverse_payment(
    payment: Payment,
    *,
    person: Person | None,
    reason: str,
    agreed_by: Person | None = None,
) -> Payment:
    """Take back a payment that was booked wrongly or bounced; the invoices are open again."""
    on = timezone.localdate()
    if not reason.strip():
        raise ValidationError({"reason": _("Write why the payment is taken back.")})
    hold_account(payment.customer)
    payment = Payment.objects.select_for_update().get(pk=payment.pk)
    if payment.gives_back:
        raise ValidationError(_("This is money given back; it cannot be taken back again."))
    if Payment.objects.filter(reverses=payment).exists():
        raise ValidationError(_("This payment was taken back before."))
    _check_two_people(payment.customer, payment.amount, on, Business.current(), person, agreed_by)
    for share in standing_shares(payment):
        if share.refund_id:
            raise ValidationError(
                _("Part of this payment was already given back, so it cannot be taken back whole.")
            )
        take_back(share, on)
        if share.paper is not None and share.paper.on_account:
            _unmake(share.paper, person=person, reason=reason, on=on)
    way = PaymentDetails(payment.method, payment.drawer)
    back = _write(
        payment.customer,
        payment.order,
        -payment.amount,
        -payment.rounding,
        on,
        way,
        person,
        reverses=payment,
        reference=f"{reason.strip()[:40]} · {payment.pk}",
    )
    payment.refresh_from_db()
    lay(payment, back, payment.amount, on)
    back.refresh_from_db()
    record_act(person, "reverse payment", payment, after={"reason": reason})
    issue_refund_slip(back, person=person)
    return back


def _unmake(paper: Document, *, person: Person | None, reason: str, on: date) -> None:
    """No money came in, so no tax fell due on it; what a final invoice took off stays owed."""
    paper.refresh_from_db()
    if any(line.left_gross for line in paper.lines.all()):
        issue_credit_note(paper, person=person, reason=reason.strip(), on=on)


@transaction.atomic
def allocate(
    source: Payment | Document, papers: Sequence[tuple[Document, Decimal]], *, person: Person | None
) -> None:
    """Lay credit that is left, of a payment or credit note, on invoices by hand."""
    hold_account(source.customer)
    on = timezone.localdate()
    for paper, amount in papers:
        if paper.customer_id != source.customer_id:
            raise ValidationError(
                _("%(number)s belongs to another customer. Choose one of this customer's papers.")
                % {"number": paper.number}
            )
        lay(source, paper, amount, on)
    record_act(person, "allocate", source, after={p.number: str(amount) for p, amount in papers})


@transaction.atomic
def allocate_oldest_first(customer: Customer, *, person: Person | None) -> Decimal:
    """Use all of a customer's free credit on the oldest open papers; gives how much was used.

    Deposits stay with orders that are still to be invoiced.
    """
    hold_account(customer)
    on = timezone.localdate()
    used = ZERO
    for credit in free_credits(customer):
        before = spendable(credit)
        papers = Document.objects.open().filter(customer=customer).oldest_first()
        used += before - lay_on_each(credit, papers, on)
    if used:
        record_act(person, "allocate", customer, after={"used": str(used)})
    return used


def free_credits(customer: Customer) -> list[Payment | Document]:
    """Credit that waits for no order: not the deposit of an order that is still to be charged."""
    return [credit for credit in credits_of(customer) if not _waits(credit)]


def _waits(credit: Payment | Document, *, but_for: Order | None = None) -> bool:
    if isinstance(credit, Document) or credit.order is None or credit.order == but_for:
        return False
    if credit.order.state == Order.State.CANCELLED:
        return False
    lines = credit.order.lines.select_related("order")
    return bool(still_to_charge(list(lines)))


@transaction.atomic
def undo_share(share: PaymentAllocation, *, person: Person | None) -> None:
    """Take money off an invoice it was laid on by mistake."""
    source = share.payment or share.credit
    assert source is not None
    hold_account(source.customer)
    if share not in standing_shares(source) or share.refund_id:
        raise ValidationError(_("This was taken back before, or given back in money."))
    if share.paper is not None and share.paper.on_account and share.payment_id:
        raise ValidationError(
            _("%(number)s was issued for this very money. Credit it, then the money is free.")
            % {"number": share.paper.number}
        )
    take_back(share, timezone.localdate())
    record_act(person, "take back share", share, after={"amount": str(share.amount)})


def standing_shares(source: Payment | Document) -> list[PaymentAllocation]:
    """Shares of a payment or credit note that no later share has taken back."""
    shares = source.shares if isinstance(source, Payment) else source.credit_shares
    standing: list[PaymentAllocation] = []
    for share in shares.select_related("paper", "refund").order_by("id"):
        if share.amount > 0:
            standing.append(share)
            continue
        match = next(
            each
            for each in standing
            if (each.paper_id, each.refund_id, each.amount)
            == (share.paper_id, share.refund_id, -share.amount)
        )
        standing.remove(match)
    return standing


def e164(number: str, country: str) -> str:
    """A telephone number as +351912345678; raises ValidationError with what to write instead.

    Source: ITU-T E.164; parsed by the phonenumbers library.
    """
    import phonenumbers

    try:
        parsed = phonenumbers.parse(number, country or None)
    except phonenumbers.NumberParseException as error:
        raise _bad_number(number) from error
    if not phonenumbers.is_possible_number(parsed):
        raise _bad_number(number)
    return phonenumbers.format_number(parsed, phonenumbers.PhoneNumberFormat.E164)


def doubtful_number(number: str) -> bool:
    """Whether a number kept as E.164 has the right length but, as far as known, nobody has it."""
    import phonenumbers

    return not phonenumbers.is_valid_number(phonenumbers.parse(number))


def _bad_number(number: str) -> ValidationError:
    return ValidationError(
        {
            "payer_number": _(
                "“%(number)s” is no telephone number. Write it with its country, such as "
                "+351 912 345 678."
            )
            % {"number": number}
        }
    )


def _checked_way(way: PaymentDetails, business: Business) -> PaymentDetails:
    if way.method not in dict(Payment.WAYS):
        raise ValidationError(
            {"method": _("Money does not move that way; choose how it came in or went out.")}
        )
    if way.method != MOBILE:
        network, payer = "", ""
    else:
        network = _as_spelled_before(" ".join(way.network.split()))
        payer = e164(way.payer_number, business.country) if way.payer_number.strip() else ""
        if not network:
            raise ValidationError({"network": _("Write the network the money came over.")})
        if not way.reference.strip():
            raise ValidationError(
                {"reference": _("Write the reference that the network gave, so it books once.")}
            )
    # Networks print references with and without spaces, in either case.
    reference = "".join(way.reference.split()).upper() if network else way.reference.strip()
    drawer = way.drawer.strip() if way.method == CASH else ""
    if way.fee < 0:
        raise ValidationError({"fee": _("A fee cannot be below 0.")})
    return PaymentDetails(way.method, drawer, network, payer, reference, way.fee)


def _as_spelled_before(network: str) -> str:
    """A network is one, however it is typed; a reference of it books once."""
    known = Payment.objects.filter(method=MOBILE).order_by().values_list("network", flat=True)
    spelled = {name.casefold(): name for name in known.distinct()}
    return spelled.get(network.casefold(), network)


def _check_two_people(
    customer: Customer,
    amount: Decimal,
    on: date,
    business: Business,
    person: Person | None,
    agreed_by: Person | None,
) -> None:
    """Small sums one after the other are one sum: what goes back to a customer in a day counts."""
    most = business.two_for_refunds
    if most is None or (agreed_by is not None and agreed_by != person):
        return
    given = Payment.objects.filter(customer=customer, on=on, amount__lt=0)
    before = -(given.aggregate(total=Sum("amount"))["total"] or ZERO)
    if before + amount > most:
        raise NeedsAnother(
            _("Give %(amount)s back to %(name)s") % {"amount": money(amount), "name": customer}
        )


def _refund_agreed(facts: dict[str, Any], asked_by: Person, agreed_by: Person) -> None:
    way = PaymentDetails(**facts["way"])
    customer = Customer.objects.get(pk=facts["customer"])
    refund(customer, Decimal(facts["amount"]), person=asked_by, way=way, agreed_by=agreed_by)


def _reversal_agreed(facts: dict[str, Any], asked_by: Person, agreed_by: Person) -> None:
    payment = Payment.objects.get(pk=facts["payment"])
    reverse_payment(payment, person=asked_by, reason=facts["reason"], agreed_by=agreed_by)


DEEDS["refund"] = _refund_agreed
DEEDS["reversal"] = _reversal_agreed


def _check_amount(amount: Decimal, business: Business) -> None:
    if not amount.is_finite() or amount <= 0:
        raise ValidationError({"amount": _("Write an amount above 0.")})
    if amount >= Decimal("1e9"):
        raise ValidationError({"amount": _("That is more than a workshop is paid; check it.")})
    if round_half_up(amount, business.currency) != amount:
        raise ValidationError(
            {
                "amount": _("%(currency)s has %(digits)d decimals; write the amount with no more.")
                % {"currency": business.currency, "digits": business.money_digits}
            }
        )


def _owed(
    customer: Customer,
    order: Order | None,
    papers: Sequence[tuple[Document, Decimal]] | None,
    oldest_first: bool,
) -> list[tuple[Document, Decimal]]:
    if papers is not None:
        for paper, _amount in papers:
            if paper.customer_id != customer.pk:
                raise ValidationError(
                    _("%(number)s belongs to another customer.") % {"number": paper.number}
                )
        return list(papers)
    owing = Document.objects.open().filter(customer=customer).oldest_first()
    if order is not None:
        owing = owing.filter(order=order)
    elif not oldest_first:
        return []
    return [(paper, paper.open_amount) for paper in owing]


def _in_coins(
    amount: Decimal, owed: Decimal, way: PaymentDetails, business: Business
) -> tuple[Decimal, Decimal]:
    """The amount booked and what the smallest coin adds to it.

    Whoever pays 1.20 in coins of 0.05 for a debt of 1.18 has paid the debt, not made a credit.
    """
    if way.method != CASH:
        return amount, ZERO
    coin = business.smallest_coin
    if owed > 0 and amount != owed and round_to_coin(owed, coin) == amount:
        return owed, amount - owed
    return amount, round_to_coin(amount, coin) - amount


def _write(
    customer: Customer,
    order: Order | None,
    amount: Decimal,
    rounding: Decimal,
    on: date,
    way: PaymentDetails,
    person: Person | None,
    reverses: Payment | None = None,
    reference: str = "",
) -> Payment:
    try:
        with transaction.atomic():
            payment = Payment.objects.create(
                customer=customer,
                order=order,
                on=on,
                amount=amount,
                rounding=rounding,
                method=way.method,
                network=way.network,
                payer_number=way.payer_number,
                reference=reference or way.reference,
                fee=way.fee,
                drawer=way.drawer,
                taken_by=person,
                unused=amount,
                reverses=reverses,
            )
            keep_accounts({customer.pk})
            return payment
    except IntegrityError as error:
        if way.method != MOBILE:
            raise
        raise ValidationError(
            {
                "reference": _(
                    "Reference %(reference)s of %(network)s is booked already. Look for it under "
                    "Money before booking it again."
                )
                % {"reference": way.reference, "network": way.network}
            }
        ) from error
