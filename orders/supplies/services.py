"""Findings bought, taken in, counted for the first time, and no longer kept in stock."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.making.services.findings import fit_findings, share_out_findings
from orders.models import BoughtTogether, Finding, Purchase
from stock.measures import SMALLEST_IN
from stock.models import Balance, Posting, StockLocation
from stock.services.counting import count_shelf
from stock.services.places import usual_place
from stock.services.supplies import supply_item, take_in_supply
from stock.services.undo import take_back
from workshop import money
from workshop.costs.amounts import six
from workshop.models import Business, Person
from workshop.services.acts import record_act


@transaction.atomic
def note_purchase(
    finding: Finding,
    quantity: int,
    price: Decimal,
    *,
    person: Person,
    supplier: str = "",
    tax_rate: Decimal = Decimal(0),
    paper: str = "",
    ordered_on: date | None = None,
    expected_on: date | None = None,
    arrived_on: date | None = None,
    together: BoughtTogether | None = None,
) -> Purchase:
    """Write down what was ordered: so much, for so much in all, with its VAT.

    quantity    in the smallest unit
    arrived_on  the day it came, where it is here already; else it is on its way
    Left empty, the day it is expected follows from the finding's days of delivery.
    """
    business, today = Business.current(), timezone.localdate()
    ordered = ordered_on or arrived_on or today
    if expected_on is None and finding.delivery_days is not None:
        expected_on = ordered + timedelta(days=finding.delivery_days)
    net = price
    if business.tax_registered and tax_rate:
        net = money.without_tax(price, tax_rate, business.currency)
    purchase = Purchase(
        finding=finding,
        supplier=" ".join(supplier.split()) or finding.supplier,
        quantity=quantity,
        price=price,
        tax_rate=tax_rate,
        net=net,
        paper=paper.strip(),
        ordered_on=ordered,
        expected_on=expected_on,
        together=together,
        person=person,
    )
    _check_days(purchase, arrived_on, today)
    purchase.full_clean()
    purchase.save()
    record_act(
        person,
        "note purchase",
        purchase,
        after={"what": str(purchase), "price": str(price), "supplier": purchase.supplier},
    )
    if arrived_on is not None:
        return take_in(purchase, person=person, on=arrived_on)
    return purchase


def _check_days(purchase: Purchase, arrived_on: date | None, today: date) -> None:
    if purchase.ordered_on > today:
        raise ValidationError({"ordered_on": _("That day is still to come; write the day it was.")})
    if arrived_on is not None and arrived_on > today:
        raise ValidationError({"arrived_on": _("That day is still to come; write the day it was.")})
    if purchase.expected_on is not None and purchase.expected_on < purchase.ordered_on:
        raise ValidationError(
            {"expected_on": _("It cannot be expected before it is ordered; look at both days.")}
        )


@dataclass(frozen=True)
class Bought:
    """One line of a paper: so much of a finding [smallest unit], for so much in all, VAT in it."""

    finding: Finding
    quantity: int
    price: Decimal
    tax_rate: Decimal = Decimal(0)


@transaction.atomic
def note_purchases(
    lines: Sequence[Bought],
    *,
    person: Person,
    supplier: str = "",
    paper: str = "",
    ordered_on: date,
    expected_on: date | None = None,
    arrived_on: date | None = None,
) -> BoughtTogether:
    """Write down what stands on one paper of a supplier, line by line with its price and VAT."""
    together = BoughtTogether.objects.create(
        supplier=" ".join(supplier.split()),
        paper=paper.strip(),
        ordered_on=ordered_on,
        person=person,
    )
    for line in lines:
        note_purchase(
            line.finding, line.quantity, line.price, person=person, supplier=supplier,
            tax_rate=line.tax_rate, paper=paper, ordered_on=ordered_on, expected_on=expected_on,
            arrived_on=arrived_on, together=together,
        )  # fmt: skip
    return together


@transaction.atomic
def take_in_of(
    together: BoughtTogether, quantities: Mapping[int, int], *, person: Person
) -> list[Purchase]:
    """So much of the lines of a paper has come, by key; the rest stays on its way."""
    rows = together.purchases.select_related("finding").in_bulk(list(quantities))
    came = [
        take_in(rows[key], person=person, quantity=quantity)
        for key, quantity in sorted(quantities.items())
        if quantity
    ]
    if not came:
        raise ValidationError(_("Write how much came of at least one thing."))
    return came


@transaction.atomic
def take_in(
    purchase: Purchase, *, person: Person, on: date | None = None, quantity: int | None = None
) -> Purchase:
    """It has come: it lies on the supplies shelf, worth what was paid, and orders hold of it.

    quantity  where only so much of it came; the rest stays on its way at its part of the price
    """
    purchase = Purchase.objects.select_for_update().get(pk=purchase.pk)
    if not purchase.is_on_its_way:
        raise ValidationError(_("This purchase is in the book already, or was called off."))
    if quantity is not None:
        _leave_the_rest(purchase, quantity)
    finding = _with_item(purchase.finding)
    on = on or timezone.localdate()
    assert finding.item is not None
    posting = take_in_supply(
        finding.item, purchase.quantity, purchase.net, person=person, on=on,
        belongs=("purchase", str(purchase.pk)),
    )  # fmt: skip
    purchase.posting, purchase.arrived_on = posting, on
    purchase.save(update_fields=["posting", "arrived_on"])
    keep_in_stock(finding)
    return purchase


def _leave_the_rest(purchase: Purchase, quantity: int) -> None:
    """What did not come becomes a purchase of its own, still on its way."""
    rest = purchase.quantity - quantity
    if quantity < 1:
        raise ValidationError(_("Write how much came of at least one thing."))
    if rest < 0:
        said = purchase.finding.said(purchase.quantity)
        raise ValidationError(
            _("Only %(n)s of %(finding)s were ordered. Write the rest as a purchase of its own.")
            % {"n": said, "finding": purchase.finding}
        )
    if not rest:
        return
    currency = Business.current().currency
    parts = {
        name: money.split_by_largest_remainder(getattr(purchase, name), [quantity, rest], currency)
        for name in ("price", "net")
    }
    left = Purchase.objects.get(pk=purchase.pk)
    left.pk, left.quantity = None, rest
    left.price, left.net = parts["price"][1], parts["net"][1]
    left.save()
    purchase.quantity = quantity
    purchase.price, purchase.net = parts["price"][0], parts["net"][0]
    purchase.save(update_fields=["quantity", "price", "net"])


@transaction.atomic
def call_off(purchase: Purchase, *, person: Person) -> Purchase:
    """It will not come after all."""
    changed = Purchase.objects.filter(
        pk=purchase.pk, arrived_on__isnull=True, called_off=False
    ).update(called_off=True)
    if not changed:
        raise ValidationError(_("This purchase is in the book already, or was called off."))
    purchase.refresh_from_db()
    record_act(person, "call off purchase", purchase, after={"what": str(purchase)})
    return purchase


@transaction.atomic
def give_back(purchase: Purchase, *, person: Person, why: str) -> Purchase:
    """A purchase that was written down wrongly is taken back out of the book, and called off."""
    if purchase.posting is None:
        raise ValidationError(_("This purchase has not come yet; call it off instead."))
    take_back(purchase.posting, person=person, why=why)
    purchase.refresh_from_db()
    return call_off(purchase, person=person)


@transaction.atomic
def count_finding(
    finding: Finding,
    quantity: int,
    *,
    person: Person,
    why: str = "",
    worth_each: Decimal | None = None,
    expected: int | None = None,
) -> Posting | None:
    """What lies there: at first as stock from before the book, later as a count of the shelf.

    worth_each  at first, what one (a metre, a kilogram) of it cost; else the price written down
    expected    what the book said when it was counted
    """
    if finding.kept and finding.item is not None:
        place = supplies_place(finding)
        return count_shelf(
            place,
            {finding.item: quantity},
            person=person,
            why=why,
            expected=None if expected is None else {finding.item.pk: expected},
        )
    if quantity < 1:
        raise ValidationError(
            {"quantity": _("Write how much there is; of nothing there is nothing to keep.")}
        )
    fresh = _with_item(finding)
    assert fresh.item is not None
    if Balance.objects.inside().filter(item=fresh.item, quantity__gt=0).exists():
        keep_in_stock(fresh)
        return count_finding(fresh, quantity, person=person, why=why, expected=expected)
    each = fresh.price if worth_each is None else worth_each
    posting = take_in_supply(
        fresh.item,
        quantity,
        six(each * quantity / SMALLEST_IN[fresh.unit]),
        person=person,
        on=timezone.localdate(),
        here_before=True,
    )
    keep_in_stock(fresh)
    return posting


def supplies_place(finding: Finding) -> StockLocation:
    """Where most of it lies; the workshop's own supplies shelf where there is none (1 query)."""
    rows = Balance.objects.at("supplies").filter(item=finding.item_id, quantity__gt=0)
    most = rows.select_related("place").order_by("-quantity").first()
    return most.place if most is not None else usual_place("supplies")


def _with_item(finding: Finding) -> Finding:
    """The finding with what the book counts it as, made when first asked for."""
    rows = Finding.objects.select_for_update(of=("self",)).select_related("item")
    found = rows.get(pk=finding.pk)
    if found.item is None:
        found.item = supply_item(found.name, found.use)
        found.save(update_fields=["item"])
    return found


@transaction.atomic
def keep_in_stock(finding: Finding) -> None:
    """From now on orders hold it and wait for it, and strands take it off its shelf."""
    begun = Finding.objects.filter(pk=finding.pk, kept=False).update(kept=True)
    if not finding.is_on_strands:
        return
    if begun:
        fit_findings()
    else:
        share_out_findings()


@transaction.atomic
def cease_keeping(finding: Finding, *, person: Person) -> Finding:
    """It is not counted any more: nobody waits for it, and strands bear its written price.

    Refused while any of it lies there, for its value would lie there for good.
    """
    there = sum(
        Balance.objects.inside().filter(item=finding.item_id).values_list("quantity", flat=True)
    )
    if there:
        raise ValidationError(
            _("%(there)s of %(finding)s lie there still. Count it down to nothing first.")
            % {"there": finding.said(there), "finding": finding}
        )
    Finding.objects.filter(pk=finding.pk).update(kept=False)
    fit_findings()
    record_act(person, "cease to count finding", finding, after={"kept": "no"})
    finding.refresh_from_db()
    return finding
