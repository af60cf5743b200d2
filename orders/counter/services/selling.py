"""Sold from the shelf: strands that lie ready leave at once, charged and paid in one act."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.costing.facts import BatchFacts, LineFacts, ReadyStrandFacts, StockFacts
from orders.costing.results import OrderCosting
from orders.counter.queries import free_loose_beads, free_strands, loose_kinds
from orders.counter.services.ordering import draft_order, refuse_below_floor
from orders.facts.order import facts_for
from orders.facts.wording import refusal
from orders.making.services.holds import strand_item
from orders.making.services.to_stock import beads_each
from orders.models import (
    Consignment,
    Customer,
    CustomerGroup,
    Order,
    OrderLine,
    Sale,
    Stage,
    StallDay,
    StrandDesign,
    WantedLine,
    keep_accounts,
    sees_tax,
)
from orders.money.queries.charging import ToCharge, standard_rate, sums_of
from orders.money.services.invoices import issue_invoice
from orders.money.services.payment_allocations import hold_account
from orders.money.services.payments import PaymentDetails, record_payment
from stock.models import Balance, LocationKind
from stock.services.convert import Taken
from stock.services.places import usual_place
from stock.services.stringing import hand_over, string_strands
from workshop import formats
from workshop.models import Business, Person
from workshop.money import ZERO, round_half_up
from workshop.services.acts import record_act


class ShelfShort(ValidationError):
    """Fewer strands of a design lie free than are to be sold. Carries the design's key."""

    def __init__(
        self,
        design: StrandDesign,
        asked: int,
        free: int,
        held: int,
        at: StallDay | Consignment | None = None,
    ) -> None:
        self.design = design.pk
        words = {"design": design, "asked": asked, "free": free, "held": held}
        if at is not None:
            words["stall"] = at.place
            sentence = _(
                "%(design)s: %(free)s are out at %(stall)s and %(asked)s were written. Write "
                "%(free)s or fewer."
            )
        elif not free and not held:
            sentence = _(
                "%(design)s: none lies on the shelf any more, and %(asked)s were written. Take an "
                "order for it."
            )
        elif held:
            sentence = _(
                "%(design)s: %(free)s lie free on the shelf and %(asked)s were written; %(held)s "
                "more are held for orders. Sell %(free)s, or take an order for the rest."
            )
        else:
            sentence = _(
                "%(design)s: %(free)s lie on the shelf and %(asked)s were written. Sell %(free)s, "
                "or take an order for the rest."
            )
        super().__init__(sentence % words)


@dataclass(frozen=True)
class PricedSale:
    """What a sale comes to: its costing, and what is to be paid, VAT included.

    off     what is taken off the lines, and what it is called
    floors  the costing at what is left of each price, where that is what the floors are held to
    """

    costing: OrderCosting
    due: Decimal
    off: Decimal = ZERO
    off_words: str = ""
    floors: OrderCosting | None = None


def nameless_customer() -> Customer:
    """Who stands for everybody that buys from the shelf without giving a name (1 query)."""
    found = Customer.objects.filter(nameless=True).first()
    if found is None:
        found, _made = Customer.objects.get_or_create(
            nameless=True,
            defaults={"name": _("Over the counter"), "group": CustomerGroup.WALK_IN},
        )
    return found


def price_sale(
    lines: Sequence[WantedLine],
    *,
    customer: Customer | None,
    business: Business,
    on: date,
    designs: Sequence[StrandDesign],
    rows: Sequence[Balance],
    beads: Sequence[Balance] = (),
    shop: Consignment | None = None,
) -> PricedSale:
    """Price lines as they would be sold and charged now; nothing is written.

    A shop sells at the price to walk-ins; its share is taken off, and the floors are held to the
    rest.


    designs  those of the lines, with their clasp and cord
    rows     the strands that are ready where they are sold
    beads    loose beads on the shelf, where any are sold
    """
    told_to = shop.shop if shop else customer
    with_tax = sees_tax(told_to, business, CustomerGroup.WALK_IN)
    facts = facts_for(
        lines,
        customer=customer,
        group=CustomerGroup.WALK_IN,
        business=business,
        on=on,
        with_tax=with_tax,
    )
    facts = replace(facts, stock=_ready(designs, rows, beads))
    floors, off, words = None, ZERO, ""
    try:
        costing = cost_order(facts)
        if shop is not None:
            off, words = shops_share(shop, costing, business)
            kept = [replace(line, price=_kept(shop, costing, line)) for line in facts.lines]
            floors = cost_order(replace(facts, lines=tuple(kept)))
    except CostingError as error:
        raise ValidationError(refusal(error)) from error
    rate = standard_rate(business, on)
    to_charge = [
        ToCharge(OrderLine(strands=line.quantity, price=line.price_each), line.quantity, rate)
        for line in costing.lines
    ]
    due = sums_of(to_charge, business, with_tax=with_tax, ordinary=rate, discount=off).due
    return PricedSale(costing, due, off, words, floors)


def shops_share(
    shop: Consignment, costing: OrderCosting, business: Business
) -> tuple[Decimal, str]:
    """What the shop keeps of a sale, rounded once for the whole of it, and what it is called."""
    whole = sum((line.price_each * line.quantity for line in costing.lines), ZERO)
    off = round_half_up(whole * shop.share, business.currency)
    return off, _("Share of the shop, %(share)s") % {"share": formats.percent(shop.share)}


def _kept(shop: Consignment, costing: OrderCosting, line: LineFacts) -> Decimal:
    """What of the price of one strand is left to us."""
    each = next(found.price_each for found in costing.lines if found.key == line.key)
    return each * (1 - shop.share)


def _ready(
    designs: Sequence[StrandDesign], rows: Sequence[Balance], beads: Sequence[Balance]
) -> StockFacts:
    """What is ready where it is sold, and loose beads: a sale makes nothing."""
    own = {design.item_id: design.pk for design in designs}
    return StockFacts(
        tuple(
            BatchFacts(
                row.pk,
                str(batch),
                batch.bead_id,
                row.free_quantity,
                row.value / row.quantity,
            )
            for row in beads
            if (batch := row.item.batch) is not None and row.free_quantity > 0
        ),
        tuple(
            ReadyStrandFacts(own[row.item_id], row.free_quantity, row.value / row.quantity)
            for row in rows
            if row.item_id in own and row.free_quantity > 0
        ),
    )


@transaction.atomic
def sell(
    lines: Sequence[WantedLine],
    *,
    person: Person,
    way: PaymentDetails | None,
    customer: Customer | None = None,
    day: StallDay | None = None,
    shop: Consignment | None = None,
    on: date | None = None,
    owner_word: str = "",
    note: str = "",
    priced: PricedSale | None = None,
) -> Sale:
    """Sell strands that lie free on the shelf: they leave it, are invoiced, and are paid.

    way       none: the invoice is paid later
    day       the day at a stall, where they are sold from what is out there
    shop      to whom they were lent and who sold them; its share is taken off the invoice
    customer  none: somebody who gives no name gets the short form of the invoice
    on        the day it was sold, where it is written down afterwards; papers are of today
    priced    of these very lines and this customer, where they were priced in this transaction

    What is held for an order is never sold. Raises ShelfShort where too few lie free, and a
    ValidationError for a price below a floor without the owner's word, or money that cannot be
    booked.
    """
    if not lines:
        raise ValidationError(_("Nothing is chosen yet. Tap a strand that is to be sold."))
    today = timezone.localdate()
    on = on or today
    business = Business.in_force()
    customer = customer or nameless_customer()
    hold_account(customer)
    found = StrandDesign.objects.select_related("clasp", "cord")
    designs = found.in_bulk([line.design for line in lines])
    rows = free_strands([design.item_id for design in designs.values()], at=day or shop)
    beads = _loose_on_shelf(designs, day or shop)
    parts = _taken(lines, designs, rows, day or shop, beads)
    priced = priced or price_sale(
        lines,
        customer=None if shop else customer,
        shop=shop,
        business=business,
        on=on,
        designs=list(designs.values()),
        rows=rows,
        beads=[row for own in beads.values() for row in own],
    )
    floors = priced.floors or priced.costing
    below = refuse_below_floor(floors, person=person, owner_word=owner_word)
    order = draft_order(customer, lines, person=person, note=note, costing=priced.costing)
    now = timezone.now()
    Order.objects.filter(pk=order.pk).update(
        state=Order.State.COLLECTED,
        stage=Stage.COLLECTED,
        stage_since=now,
        confirmed_at=now,
        taken_on=on,
        collected_on=on,
        below_cost_by=below.by,
        below_cost_why=below.why,
        version=F("version") + 1,
    )
    keep_accounts({order.customer_id})
    order.lines.update(strung=F("strands"), handed=F("strands"))
    order.refresh_from_db()
    parts += _count_out(lines, designs, parts, order, person=person, on=on)
    posting = hand_over(
        parts,
        person=person,
        why=str(_("sale %d") % order.number),
        belongs=("sale", str(order.number)),
        on=on,
    )
    invoice = issue_invoice(
        order, person=person, supplied_on=on, paid_by=way.method if way else "",
        discount=priced.off, discount_words=priced.off_words,
    )  # fmt: skip
    payment = None
    if invoice.total and way is not None:
        payment = record_payment(
            customer,
            invoice.total,
            person=person,
            way=way,
            order=order,
            papers=[(invoice, invoice.total)],
            on=on,
        )
        invoice.refresh_from_db(fields=["settled"])
    sale = Sale.objects.create(
        order=order, posting=posting, invoice=invoice, payment=payment, stall_day=day,
        consignment=shop,
    )  # fmt: skip
    record_act(person, "sell from the shelf", sale, after={"total": str(invoice.total)})
    return sale


def _taken(
    lines: Sequence[WantedLine],
    designs: Mapping[int, StrandDesign],
    rows: Sequence[Balance],
    day: StallDay | Consignment | None,
    beads: Mapping[int, Sequence[Balance]],
) -> list[Taken]:
    """What of which place is sold; the book looks again under its locks.

    Of loose beads, what was counted out before; the rest must lie free among `beads` by design.
    """
    parts = []
    for line in lines:
        design = designs[line.design]
        own = [row for row in rows if row.item_id == design.item_id]
        left = line.strands
        for row in own:
            if piece := min(left, row.free_quantity):
                parts.append(Taken(row.item, row.place, piece))
                left -= piece
        loose = beads.get(design.pk, ())
        left = max(0, left - sum(row.free_quantity for row in loose))
        if left:
            held = sum(row.reserved for row in (*own, *loose))
            raise ShelfShort(design, line.strands, line.strands - left, held, day)
    return parts


def _loose_on_shelf(
    designs: Mapping[int, StrandDesign], day: StallDay | Consignment | None
) -> dict[int, list[Balance]]:
    """Beads on the shelf by design of loose beads; none away from it (2 queries where any is)."""
    kinds = loose_kinds(designs.values())
    if not kinds or day is not None:
        return {}
    rows = free_loose_beads()
    return {
        design: [row for row in rows if row.item.batch and row.item.batch.bead_id == bead]
        for design, bead in kinds.items()
    }


def _count_out(
    lines: Sequence[WantedLine],
    designs: Mapping[int, StrandDesign],
    parts: Sequence[Taken],
    order: Order,
    *,
    person: Person,
    on: date,
) -> list[Taken]:
    """Loose beads of a sale that are still among their batches, counted out of them."""
    ready: dict[int | None, int] = {}
    for part in parts:
        ready[part.item.pk] = ready.get(part.item.pk, 0) + part.quantity
    counted = []
    for line in lines:
        design = designs[line.design]
        if design.is_loose and (left := line.strands - ready.get(design.item_id, 0)) > 0:
            item = strand_item(design)
            (bead,) = beads_each(design)
            string_strands(
                item,
                left,
                {bead: left},
                person=person,
                on=on,
                belongs=("sale", str(order.number)),
                counted=True,
            )
            counted.append(Taken(item, usual_place(LocationKind.STRAND_SHELF), left))
    return counted
