"""Strands of a sale that come back: credited, paid back, and on the shelf or with the rejects."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import F, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.making.services.to_stock import beads_each
from orders.models import Order, OrderLine, Sale, SaleReturn
from orders.money.services.credit_notes import issue_credit_note
from orders.money.services.payment_allocations import hold_account
from orders.money.services.payments import PaymentDetails, refund
from stock.models import (
    BeadColour,
    ChargeName,
    GlassForm,
    LocationKind,
    Movement,
    Posting,
    PostingKind,
)
from stock.services.apart import mix_of
from stock.services.beads import scrap_value
from stock.services.book import Move, post
from stock.services.moves import Cost, Shares
from stock.services.places import glass_item, usual_place
from workshop.costs.amounts import six
from workshop.models import Person
from workshop.money import ZERO
from workshop.services.acts import record_act
from workshop.services.second_look import DEEDS


@dataclass(frozen=True)
class CameBack:
    """Of one line of a sale: strands good enough for the shelf, and broken ones."""

    line: int
    good: int = 0
    broken: int = 0

    @property
    def strands(self) -> int:
        return self.good + self.broken


@transaction.atomic
def take_sale_back(
    sale: Sale,
    came_back: Sequence[CameBack],
    *,
    person: Person,
    reason: str,
    way: PaymentDetails,
    on: date | None = None,
    agreed_by: Person | None = None,
) -> SaleReturn:
    """Take strands of a sale back: a credit note names its invoice, the money is given back.

    Good strands lie on the shelf again with the value they left it with. Broken ones go to the
    rejects: their glass is worth what raw glass of its colours is, the rest is expensed.

    agreed_by  the second person, where the owner asks for two above a sum
    """
    hold_account(sale.order.customer)
    order = Order.objects.select_for_update(of=("self",)).get(pk=sale.order_id)
    lines = {line.pk: line for line in order.lines.select_related("design__item", "design__clasp")}
    came_back = [each for each in came_back if each.strands]
    _check(lines, came_back)
    credit = issue_credit_note(
        sale.invoice, person=person, reason=reason, quantities=_credited(sale, came_back), on=on
    )
    paid = None
    if credit.open_amount:  # nothing, where the money had not come in after all
        paid = refund(
            order.customer, credit.open_amount, person=person, way=way, order=order, on=on,
            agreed_by=agreed_by,
        )  # fmt: skip
    posting = _goods_back(sale, lines, came_back, person=person, on=on or timezone.localdate())
    for each in came_back:
        OrderLine.objects.filter(pk=each.line).update(came_back=F("came_back") + each.strands)
    back = SaleReturn.objects.create(
        sale=sale, posting=posting, credit=credit, refund=paid, taken_by=person
    )
    record_act(
        person,
        "take sale back",
        sale,
        after={str(lines[each.line].design): each.strands for each in came_back},
    )
    return back


def _check(lines: Mapping[int, OrderLine], came_back: Sequence[CameBack]) -> None:
    if not came_back:
        raise ValidationError(_("Write how many strands came back."))
    for each in came_back:
        line = lines.get(each.line)
        if line is None:
            raise ValidationError(_("One of these lines is not of this sale. Open it again."))
        left = line.strands - line.came_back
        if min(each.good, each.broken) < 0 or each.strands > left:
            raise ValidationError(
                _(
                    "%(design)s: %(asked)s are said to have come back, and the customer has "
                    "%(left)s. Write %(left)s or fewer."
                )
                % {"design": line.design, "asked": each.strands, "left": left}
            )


def _credited(sale: Sale, came_back: Sequence[CameBack]) -> dict[int, int]:
    """How many of each line of the invoice are credited, by its primary key (1 query)."""
    charged = dict(
        sale.invoice.lines.filter(order_line__isnull=False).values_list("order_line", "pk")
    )
    return {charged[each.line]: each.strands for each in came_back}


# --- the goods ----------------------------------------------------------------------------------


def _goods_back(
    sale: Sale,
    lines: Mapping[int, OrderLine],
    came_back: Sequence[CameBack],
    *,
    person: Person,
    on: date,
) -> Posting:
    sold, work = usual_place(LocationKind.SOLD), usual_place(LocationKind.IN_WORK)
    shelf, glass_shelf = (
        usual_place(LocationKind.STRAND_SHELF),
        usual_place(LocationKind.GLASS_SHELF),
    )
    moves, scrap = [], ZERO
    for each in came_back:
        line = lines[each.line]
        item = line.design.item
        assert item is not None, "it was sold, so the book knows it"
        good, broken = _carried(sale, line, each)
        moves.append(Move(item, sold, shelf, each.good, good.glass_mg, good.value))
        if each.broken:
            moves.append(Move(item, sold, work, each.broken, broken.glass_mg, broken.value))
            scrap += min(broken.value, _scrap_of(line, broken.glass_mg, on))
            if broken.glass_mg:
                moves.append(Move(_rejects_of(line), work, glass_shelf, broken.glass_mg))
    rejects = [move for move in moves if move.from_place == work]

    def share(value: Decimal) -> Shares:
        kept = min(scrap, value) if rejects else ZERO
        lost = [Cost(ChargeName.ACCIDENT, kept - value)] if value > kept else []
        # Several kinds of rejects share what they are worth by their glass.
        return Shares([None] * len(rejects), lost)

    return post(
        PostingKind.RETURN,
        moves,
        on=on,
        person=person,
        why=str(_("came back of sale %d") % sale.order.number),
        belongs=("sale", str(sale.order.number)),
        share=share,
    )


@dataclass(frozen=True)
class _Carried:
    """Glass and value that strands of a sale left the shelf with."""

    glass_mg: int
    value: Decimal


def _carried(sale: Sale, line: OrderLine, each: CameBack) -> tuple[_Carried, _Carried]:
    """What the good and the broken strands carry back; the last to come back bring the rest."""
    whole = _sum(Movement.objects.filter(posting=sale.posting_id, item=line.design.item_id))
    before = _sum(
        Movement.objects.filter(
            posting__sale_return__sale=sale,
            item=line.design.item_id,
            from_place__kind=LocationKind.SOLD,
        )
    )
    left = line.strands - line.came_back

    def part(strands: int, of_strands: int, rest: _Carried) -> _Carried:
        if not strands or strands == of_strands:
            return rest if strands else _Carried(0, ZERO)
        return _Carried(
            rest.glass_mg * strands // of_strands, six(rest.value * strands / of_strands)
        )

    rest = _Carried(whole.glass_mg - before.glass_mg, whole.value - before.value)
    good = part(each.good, left, rest)
    rest = _Carried(rest.glass_mg - good.glass_mg, rest.value - good.value)
    return good, part(each.broken, left - each.good, rest)


def _sum(movements: Any) -> _Carried:
    found = movements.aggregate(mg=Sum("glass_mg"), worth=Sum("value"))
    return _Carried(int(found["mg"] or 0), found["worth"] or ZERO)


def _scrap_of(line: OrderLine, glass_mg: int, on: date) -> Decimal:
    """What the glass of broken strands is worth as raw glass, its beads by their number."""
    beads = beads_each(line.design)
    whole = sum(beads.values())
    return sum(
        (scrap_value(bead, glass_mg * count // whole, on) for bead, count in beads.items()), ZERO
    )


def _rejects_of(line: OrderLine) -> Any:
    """The rejects that broken strands become: of their one colour, or a mix of its kind."""
    parts = BeadColour.objects.filter(bead__in=beads_each(line.design)).select_related("colour")
    colours = list(dict.fromkeys(part.colour for part in parts))
    return glass_item(colours[0] if len(colours) == 1 else mix_of(colours), GlassForm.REJECTS)


def _agreed(facts: dict[str, Any], asked_by: Person, agreed_by: Person) -> None:
    take_sale_back(
        Sale.objects.select_related("order__customer", "invoice").get(pk=facts["sale"]),
        [CameBack(*each) for each in facts["came_back"]],
        person=asked_by,
        reason=facts["reason"],
        way=PaymentDetails(**facts["way"]),
        agreed_by=agreed_by,
    )


DEEDS["sale back"] = _agreed
