"""Invoices: what an order still has to be charged for, at the tax that holds on the day."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import Order, OrderLine, Paper, PaperLine
from orders.papers import snapshot
from orders.papers.totals import Adjustment, Charged, TaxKind, Totals, add_up
from orders.services.paper_numbers import next_paper_number, refuse_backdating
from orders.services.shares import credits_of, hold_account, lay, spendable
from workshop.formats import length
from workshop.models import Business, Person, TaxRate
from workshop.services.acts import record_act

ZERO = Decimal(0)
INVOICEABLE = (Order.State.CONFIRMED, Order.State.COLLECTED)


@dataclass(frozen=True)
class ToCharge:
    """So many strands of an order line that no invoice charges yet."""

    line: OrderLine
    quantity: int
    rate: TaxRate | None


def strands_to_charge(order: Order) -> list[tuple[OrderLine, int]]:
    """Lines of the order with the strands that are not on an invoice, credited ones back again."""
    charged = dict(
        PaperLine.objects.filter(order_line__order=order, paper__kind=Paper.Kind.INVOICE)
        .values_list("order_line")
        .annotate(n=Sum(F("quantity") - F("credited_quantity")))
        .order_by()
    )
    lines = OrderLine.objects.filter(order=order).select_related("design")
    left = [(line, line.strands - charged.get(line.pk, 0)) for line in lines]
    return [(line, quantity) for line, quantity in left if quantity > 0]


def standard_rate(business: Business, on: date) -> TaxRate | None:
    """The rate used unless another is chosen; none when the business is not registered."""
    if not business.tax_registered:
        return None
    held = TaxRate.objects.filter(standard=True, valid_from__lte=on).order_by("-valid_from", "-pk")
    rate = held.first()
    if rate is None:
        raise ValidationError(
            _(
                "The business is registered for VAT, but no standard rate holds on this day. "
                "Write the rate under Workshop, then issue the paper."
            )
        )
    return rate


def rates_on(on: date) -> list[TaxRate]:
    """Of each named rate the one that holds on a day."""
    held: dict[str, TaxRate] = {}
    for rate in TaxRate.objects.filter(valid_from__lte=on).order_by("valid_from", "pk"):
        held[rate.name] = rate
    return sorted(held.values(), key=lambda rate: (not rate.standard, rate.name))


def kind_of(rate: TaxRate | None) -> TaxKind:
    """Tax category and rate as the rules of EN 16931 group them."""
    return TaxKind(rate.category, rate.rate) if rate else TaxKind("O")


@transaction.atomic
def issue_invoice(
    order: Order,
    *,
    by: Person | None,
    on: date | None = None,
    supplied_on: date | None = None,
    rate: TaxRate | None = None,
    rates: Mapping[int, TaxRate] | None = None,
    discount: Decimal = ZERO,
    carriage: Decimal = ZERO,
) -> Paper:
    """Charge what the order was not charged for yet; its deposits are taken off what is asked.

    `rate` holds for the whole paper, `rates` by order line; without either, the standard rate of
    the day of supply. The number is taken here, so it is kept only if the paper is.
    """
    business = Business.current()
    on = on or timezone.localdate()
    hold_account(order.customer)
    order = Order.objects.select_for_update().select_related("customer").get(pk=order.pk)
    to_charge = _lines_to_charge(order, business, on=supplied_on or on, rate=rate, rates=rates)
    ordinary = rate or (to_charge[0].rate if to_charge else None)
    totals = _totals(to_charge, ordinary, business, discount=discount, carriage=carriage)
    year, sequence, number = next_paper_number(Paper.Kind.INVOICE, on)
    refuse_backdating(Paper.Kind.INVOICE, on)
    due_on = on + timedelta(days=business.payment_days)
    prepaid, credits = _deposits(order, totals.total)
    used = [each.rate for each in to_charge if each.rate] + ([ordinary] if ordinary else [])
    content = snapshot.opening(Paper.Kind.INVOICE, business, order.customer, on=on, order=order)
    content |= {
        "number": number,
        "due_on": due_on.isoformat(),
        "supplied_on": (supplied_on or order.collected_on or on).isoformat(),
        "prices_include_tax": business.tax_registered and business.prices_include_tax,
        "lines": [_line_words(each, net) for each, net in zip(to_charge, totals.nets, strict=True)],
        "charges": _charge_words(totals, ordinary),
        "taxes": snapshot.taxes(totals, used),
        "sums": snapshot.sums(totals),
        "prepaid": prepaid,
        "drawings": snapshot.drawings(each.line.design for each in to_charge),
    }
    content["sums"]["prepaid"] = snapshot.text(sum((amount for _c, amount in credits), ZERO))
    content["sums"]["due"] = snapshot.text(
        totals.total - sum((amount for _c, amount in credits), ZERO)
    )
    paper = Paper.objects.create(
        kind=Paper.Kind.INVOICE,
        year=year,
        sequence=sequence,
        number=number,
        issued_on=on,
        issued_by=by,
        customer=order.customer,
        order=order,
        due_on=due_on,
        currency=business.currency,
        net=totals.net,
        tax=totals.tax,
        rounding=totals.rounding,
        total=totals.total,
        content=content,
    )
    PaperLine.objects.bulk_create(_paper_lines(paper, to_charge, totals, ordinary))
    for credit, amount in credits:
        lay(credit, paper, amount, on)
    record_act(by, "issue invoice", paper, after={"total": str(paper.total)})
    paper.refresh_from_db()
    return paper


def reckon_invoice(
    order: Order,
    *,
    supplied_on: date | None = None,
    rate: TaxRate | None = None,
    rates: Mapping[int, TaxRate] | None = None,
    discount: Decimal = ZERO,
    carriage: Decimal = ZERO,
) -> tuple[list[ToCharge], Totals]:
    """What an invoice issued now would charge; nothing is written."""
    business = Business.current()
    on = supplied_on or timezone.localdate()
    to_charge = _lines_to_charge(order, business, on=on, rate=rate, rates=rates)
    ordinary = rate or to_charge[0].rate
    return to_charge, _totals(to_charge, ordinary, business, discount=discount, carriage=carriage)


def _lines_to_charge(
    order: Order,
    business: Business,
    *,
    on: date,
    rate: TaxRate | None,
    rates: Mapping[int, TaxRate] | None,
) -> list[ToCharge]:
    if order.state not in INVOICEABLE:
        raise ValidationError(
            _("Order %(number)s is %(state)s; confirm it first, then it can be invoiced.")
            % {"number": order.number, "state": order.get_state_display()}
        )
    left = strands_to_charge(order)
    if not left:
        last = order.papers.filter(kind=Paper.Kind.INVOICE).first()
        if last is None:
            raise ValidationError(
                _("Order %(number)s has no lines, so there is nothing to charge. Add a line first.")
                % {"number": order.number}
            )
        raise ValidationError(
            _(
                "Every strand of order %(order)s is charged already on invoice %(invoice)s. "
                "To charge it anew, credit that invoice first."
            )
            % {"order": order.number, "invoice": last.number}
        )
    ordinary = rate or standard_rate(business, on)
    chosen = rates or {}
    if not business.tax_registered:
        ordinary, chosen = None, {}
    return [ToCharge(line, n, chosen.get(line.pk, ordinary)) for line, n in left]


def _totals(
    to_charge: Sequence[ToCharge],
    ordinary: TaxRate | None,
    business: Business,
    *,
    discount: Decimal,
    carriage: Decimal,
) -> Totals:
    if discount < 0 or carriage < 0:
        raise ValidationError(_("Write discount and carriage as amounts of at least 0."))
    kind = kind_of(ordinary)
    adjustments = [Adjustment(amount, kind) for amount in (-discount, carriage) if amount]
    totals = add_up(
        [
            Charged(Decimal(each.quantity), each.line.price, kind_of(each.rate))
            for each in to_charge
        ],
        adjustments,
        digits=business.money_digits,
        prices_include_tax=business.tax_registered and business.prices_include_tax,
    )
    if totals.net < 0 or any(group.base < 0 for group in totals.groups):
        raise ValidationError(
            {
                "discount": _(
                    "The discount is more than the goods it is taken from. Write a smaller one."
                )
            }
        )
    return totals


def _deposits(
    order: Order, total: Decimal
) -> tuple[list[dict[str, str]], list[tuple[Any, Decimal]]]:
    """The order's own deposits as far as the total takes them, in words and to be laid on it."""
    words, credits = [], []
    left = total
    for credit in credits_of(order.customer, order):
        if credit.order_id != order.pk or isinstance(credit, Paper):
            continue
        amount = min(left, spendable(credit))
        if amount > 0:
            words.append(snapshot.payment_words(credit, amount))
            credits.append((credit, amount))
            left -= amount
    return words, credits


def _line_words(each: ToCharge, net: Decimal) -> dict[str, Any]:
    line, kind = each.line, kind_of(each.rate)
    return {
        "design": line.design_id,
        "words": line.design.name,
        "code": line.design.code,
        "detail": length(line.design.finished_mm),
        "quantity": each.quantity,
        "price": snapshot.text(line.price),
        "net": snapshot.text(net),
        "category": kind.category,
        "rate": snapshot.text(kind.rate),
    }


def _charge_words(totals: Totals, rate: TaxRate | None) -> list[dict[str, str]]:
    kind = kind_of(rate)
    return [
        {
            "role": PaperLine.Role.DISCOUNT if amount < 0 else PaperLine.Role.CARRIAGE,
            "net": snapshot.text(abs(amount)),
            "category": kind.category,
            "rate": snapshot.text(kind.rate),
        }
        for amount in totals.adjustments
    ]


def _paper_lines(
    paper: Paper, to_charge: Sequence[ToCharge], totals: Totals, ordinary: TaxRate | None
) -> list[PaperLine]:
    lines = [
        PaperLine(
            paper=paper,
            position=position,
            order_line=each.line,
            words=each.line.design.name,
            quantity=each.quantity,
            price=each.line.price,
            net=net,
            tax_category=kind_of(each.rate).category,
            tax_rate=kind_of(each.rate).rate,
        )
        for position, (each, net) in enumerate(zip(to_charge, totals.nets, strict=True), start=1)
    ]
    kind = kind_of(ordinary)
    for position, amount in enumerate(totals.adjustments, start=len(lines) + 1):
        role = PaperLine.Role.DISCOUNT if amount < 0 else PaperLine.Role.CARRIAGE
        lines.append(
            PaperLine(
                paper=paper,
                position=position,
                role=role,
                words=str(role.label),
                price=abs(amount),
                net=abs(amount),
                tax_category=kind.category,
                tax_rate=kind.rate,
            )
        )
    return lines
