"""Goods that come back from a customer: on the shelf again or with the rejects, at their value."""

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
from orders.models import Document, Order, OrderLine, Sale
from orders.money.services.credit_notes import issue_credit_note
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


@dataclass(frozen=True)
class CameBack:
    """Of one order line: strands good enough for the shelf, and broken ones."""

    line: int
    good: int = 0
    broken: int = 0

    @property
    def strands(self) -> int:
        return self.good + self.broken


@transaction.atomic
def goods_come_back(
    order: Order, came_back: Sequence[CameBack], *, person: Person, on: date | None = None
) -> Posting:
    """Strands that a customer has come back, of an order or a sale from the shelf.

    Good ones lie on the shelf again with the value they left it with. Broken ones go to the
    rejects: their glass is worth what raw glass of its colours is, the rest is expensed.
    """
    order = Order.objects.select_for_update(of=("self",)).get(pk=order.pk)
    lines = {line.pk: line for line in order.lines.select_related("design__item", "design__clasp")}
    came_back = [each for each in came_back if each.strands]
    _check(lines, came_back)
    posting = _posted(order, lines, came_back, person=person, on=on or timezone.localdate())
    for each in came_back:
        OrderLine.objects.filter(pk=each.line).update(came_back=F("came_back") + each.strands)
    return posting


def _check(lines: Mapping[int, OrderLine], came_back: Sequence[CameBack]) -> None:
    if not came_back:
        raise ValidationError(_("Write how many strands came back."))
    for each in came_back:
        line = lines.get(each.line)
        if line is None:
            raise ValidationError(_("One of these lines is not of this sale. Open it again."))
        if min(each.good, each.broken) < 0 or each.strands > line.with_customer:
            raise ValidationError(
                _(
                    "%(design)s: %(asked)s are said to have come back, and the customer has "
                    "%(left)s. Write %(left)s or fewer."
                )
                % {"design": line.design, "asked": each.strands, "left": line.with_customer}
            )


def _posted(
    order: Order,
    lines: Mapping[int, OrderLine],
    came_back: Sequence[CameBack],
    *,
    person: Person,
    on: date,
) -> Posting:
    kind = "sale" if Sale.objects.filter(order=order).exists() else "order"
    belongs = (kind, str(order.number))
    why = _("came back of sale %d") if kind == "sale" else _("came back of order %d")
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
        good, broken = _carried(belongs, line, each)
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
        why=str(why % order.number),
        belongs=belongs,
        share=share,
    )


@dataclass(frozen=True)
class _Carried:
    """Glass and value that strands left the shelf with."""

    glass_mg: int
    value: Decimal


def _carried(
    belongs: tuple[str, str], line: OrderLine, each: CameBack
) -> tuple[_Carried, _Carried]:
    """What the good and the broken strands carry back; the last to come back bring the rest."""
    kind, number = belongs
    own = Movement.objects.filter(
        posting__belongs_kind=kind,
        posting__belongs_ref=number,
        posting__reversed_by__isnull=True,
        item=line.design.item_id,
    )
    whole = _sum(own.filter(to_place__kind=LocationKind.SOLD, posting__reverses__isnull=True))
    before = _sum(own.filter(from_place__kind=LocationKind.SOLD, posting__kind=PostingKind.RETURN))
    left = line.with_customer

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


@transaction.atomic
def credit_goods(
    invoice: Document,
    came_back: Mapping[int, tuple[int, int]],
    *,
    person: Person,
    reason: str,
    quantities: Mapping[int, int] | None = None,
    carriage: bool = False,
) -> Document:
    """A credit note, and the goods of it that came back: by line of the invoice, so many good and
    so many broken ones.

    Without `quantities` all that is left is credited; where fewer are credited than came back of a
    line, as many as came back are. Goods that were never handed over cannot come back.
    """
    came_back = {pk: each for pk, each in came_back.items() if sum(each)}
    if quantities is not None:
        least = {pk: sum(each) for pk, each in came_back.items()}
        quantities = {
            pk: max(quantities.get(pk, 0), least.get(pk, 0)) for pk in {*quantities, *least}
        }
    note = issue_credit_note(
        invoice, person=person, reason=reason, quantities=quantities, carriage=carriage
    )
    if came_back and invoice.order is not None:
        own = dict(invoice.lines.filter(pk__in=came_back).values_list("pk", "order_line"))
        back = [CameBack(own[pk] or 0, *each) for pk, each in came_back.items()]
        posting = goods_come_back(invoice.order, back, person=person)
        told = {str(m.item): m.quantity for m in posting.movements.select_related("item")}
        record_act(person, "take goods back", invoice.order, after=told | {"note": note.number})
    return note
